"""Tables, charts and the decision memo.

Import this package before altair, papermill or nbformat. They pull in jsonschema, and
with it a grammar compiler that costs about two seconds and serves only the checking
of international web addresses, which nothing here does. jsonschema copes without it.
"""

from __future__ import annotations

import sys

sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
