"""A run notebook as ONE page: no code, no network, charts drawn by a library inside it."""

from __future__ import annotations

import json
from contextlib import suppress
from importlib import resources
from importlib.metadata import version
from typing import Any

from kit.report.show import VEGALITE
from kit.save import SaveError, cache_folder, write_text

_TEMPLATES = resources.files("kit.report") / "templates"


def page(
    notebook: Any,
    title: str,
    parameters: dict[str, Any] | None = None,
    *,
    paper: str = "A4",
    kind: str = "memo",
) -> str:
    """The HTML of a run notebook (nbformat node). `parameters` is embedded as JSON, in its order.

    `paper`: what it is printed on, A4 or Letter; `kind`: memo (numbered sections) or brief.
    Raises ValueError when a value is not finite, since strict readers refuse such JSON.
    """
    extra = {
        "kit_css": _template("memo.css").replace("size: A4", f"size: {paper}"),
        "kit_draw": _template("draw.js"),
        "kit_bundle": chart_library(),
        "kit_parameters": json_for_script(parameters or {}, in_order=True),
    }
    return render(notebook, title, "memo.html.j2", extra, kind=kind)


def render(
    notebook: Any,
    title: str,
    template: str,
    extra: dict[str, Any],
    filters: dict[str, Any] | None = None,
    *,
    kind: str = "memo",
) -> str:
    """A run notebook through one of the kit's templates; the sections of a memo are numbered."""
    import nbformat
    from jinja2 import DictLoader
    from nbconvert.exporters import HTMLExporter, TemplateExporter
    from traitlets.config import Config

    from kit.report.sections import answered, number_sections

    config = Config()
    config.NbConvertBase.display_data_priority = [VEGALITE, "text/html", "text/plain"]
    exporter = HTMLExporter(
        config=config,
        extra_loaders=[DictLoader({name: _template(name) for name in ("memo.html.j2", "paper.html.j2")})],
        template_name="basic",
        template_file=template,
        filters={"kit_json": json_for_script, **(filters or {})},
        exclude_anchor_links=True,
    )
    shown = _own_copy(nbformat.from_dict(notebook))
    shown.metadata["title"] = title
    shown["cells"] = answered([nbformat.from_dict(cell) for cell in shown.cells])
    sections = number_sections(shown, numbered=kind == "memo")
    carried = {**extra, "kit_kind": kind, "kit_sections": sections}
    # the parent's method: HTMLExporter's own parses a megabyte of script again, to no use here
    text, _ = TemplateExporter.from_notebook_node(exporter, shown, resources=carried)
    return str(text)


def _own_copy(notebook: Any) -> Any:
    """A notebook nobody else holds, which the exporter need not copy again, and does twice otherwise."""
    from nbformat import NotebookNode

    class Own(NotebookNode):
        def __deepcopy__(self, memo: Any) -> Any:
            return self

    return Own(notebook)


def json_for_script(value: Any, in_order: bool = False) -> str:
    """JSON that no text inside can close or open a tag with; keys sorted, or in the order they have."""
    text = json.dumps(
        value, allow_nan=False, ensure_ascii=False, sort_keys=not in_order, separators=(",", ":")
    )
    return (
        text.replace("<", "\\u003c")
        .replace(">", "\\u003e")
        .replace("&", "\\u0026")
        .replace("\u2028", "\\u2028")
        .replace("\u2029", "\\u2029")
    )


def chart_library() -> str:
    """The drawing library as one script, kept in the user's cache by its version.

    Building it takes a second or two; where the cache cannot be written it is built each time.
    """
    kept = cache_folder() / f"charts-{version('vl-convert-python')}.js"
    try:
        text = kept.read_text(encoding="utf-8")
        if text.endswith(_END):
            return text
    except (OSError, UnicodeDecodeError):
        pass
    import vl_convert

    text = (
        vl_convert.javascript_bundle(_NAMES).replace("</script", "<\\/script").replace("<!--", "<\\!--")
        + _END
    )
    with suppress(OSError, SaveError):
        write_text(kept, text)
    return text


_NAMES = "window.vegaEmbed = vegaEmbed;"
_END = "\n// end of the drawing library\n"


def _template(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")
