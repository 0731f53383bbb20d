"""Hints for a name that is not known, and what options are called."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import TYPE_CHECKING

from kit.units import allowed_names, split_name, usual_names

if TYPE_CHECKING:
    from kit.study.models import Option


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like `name`, if any is close."""
    found = get_close_matches(name.lower(), list(known), n=1, cutoff=0.6)
    return found[0] if found else None


def option_names(options: Mapping[str, Option]) -> dict[str, str]:
    """What each option is called, by slug; those of one name have their slug behind it."""
    plain = {slug: option.name or slug.replace("_", " ").capitalize() for slug, option in options.items()}
    alike = Counter(plain.values())
    return {slug: f"{name} ({slug})" if alike[name] > 1 else name for slug, name in plain.items()}


def key_hint(key: str, fields: Iterable[str]) -> tuple[str, str | None]:
    """A hint for an unknown key of a block, and the field that was probably meant."""
    known = list(fields)
    share = re.fullmatch(r"(.+)_(pct|percent)", key)
    if share and f"{share[1]}_frac" in known:
        return f"Write {share[1]}_frac: 0.2 for 20 %.", f"{share[1]}_frac"
    stem = split_name(key)[0]
    same = [f for f in known if split_name(f)[1] and split_name(f)[0] == stem]
    same = same or [f for f in known if split_name(f)[1] and key.startswith(split_name(f)[0] + "_")]
    exact = nearest(key, known)
    if same and (exact is None or exact in same):
        names = list(dict.fromkeys(n for f in same for n in usual_names(f)))
        return f"Units taken here: {', '.join(names[:6])}.", same[0] if len(same) == 1 else None
    if exact is not None:
        return f"Did you mean {exact}?", exact
    aliases = {alias: f for f in known for alias in allowed_names(f)}
    alias = nearest(key, aliases)
    if alias is not None:
        return f"Did you mean {alias}?", aliases[alias]
    return known_hint(known), None


def known_hint(known: Iterable[str]) -> str:
    """'Known here: a, b, c.', cut where the list is long."""
    names = list(known)
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"Known here: {', '.join(names[:12])}{more}." if names else ""
