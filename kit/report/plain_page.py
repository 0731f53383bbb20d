"""A page of tables without charts: one HTML file in the hand of the memo, no script, no network."""

from __future__ import annotations

from importlib import resources

from kit.report.show import Shown, escape

_TEMPLATES = resources.files("kit.report") / "templates"


def plain_page(title: str, body: Shown, language: str = "en") -> str:
    """The HTML of a page with this title (escaped) and body."""
    style = (_TEMPLATES / "memo.css").read_text(encoding="utf-8")
    return (
        f'<!DOCTYPE html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
        f"<h1>{escape(title)}</h1>\n{body.html}\n</main>\n</body>\n</html>\n"
    )
