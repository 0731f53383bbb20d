"""Fields of a rate record: which are known, which are told but not used, and how their values are read."""

from __future__ import annotations

from typing import Any

KNOWN = {
    "label", "uri", "utility", "name", "approved", "is_default", "supersedes", "supercedes", "sector",
    "country", "eiaid", "revisions", "description", "source", "sourceparent", "startdate", "enddate",
    "servicetype", "energyratestructure", "energyweekdayschedule", "energyweekendschedule",
    "fueladjustmentsmonthly",
    "demandratestructure", "demandweekdayschedule", "demandweekendschedule", "demandrateunit", "demandwindow",
    "demandratchetpercentage", "demandunits", "flatdemandstructure", "flatdemandmonths", "flatdemandunit",
    "fixedchargefirstmeter", "fixedchargeunits", "mincharge", "minchargeunits", "dgrules",
    "fixedmonthlycharge", "minmonthlycharge", "annualmincharge", "usenetmetering",
}  # fmt: skip
LEFT_OUT = {
    "fixedchargeeaaddl": "a charge for each further meter",
    "demandreactivepowercharge": "a charge for reactive power",
    "coincidentratestructure": "a charge on demand at the utility's own peak",
    "energyattrs": "attributes of the energy charges",
    "demandattrs": "attributes of the demand charges",
    "fixedattrs": "attributes of the fixed charges",
    "energycomments": "a comment on energy, not read as a charge",
    "demandcomments": "a comment on demand, not read as a charge",
    "basicinformationcomments": "a comment",
    **dict.fromkeys(
        (
            "peakkwcapacitymin", "peakkwcapacitymax", "peakkwcapacityhistory", "peakkwhusagemin",
            "peakkwhusagemax", "peakkwhusagehistory", "voltageminimum", "voltagemaximum", "voltagecategory",
            "phasewiring",
        ),
        "who may take the plan",
    ),
}  # fmt: skip
WITH_PARENT = {"coincidentrateunit", "coincidentrateschedule"}
PER_MONTH = {"$/month": 1.0, "$/year": 1.0 / 12.0}


class RecordError(ValueError):
    """A record cannot be read as a plan; the text says which field and why."""


def short(value: object) -> str:
    """A value in one line."""
    text = " ".join(str(value).split())
    return text if len(text) <= 90 else text[:87] + "..."


def structure(record: dict[str, Any], field: str) -> list[list[dict[str, Any]]]:
    """Periods, each a list of tiers."""
    found = record.get(field) or []
    whole = isinstance(found, list) and all(isinstance(p, list) and p for p in found)
    if not whole or not all(isinstance(t, dict) for p in found for t in p):
        raise RecordError(f"{field} must be a list of periods, each a list of tiers")
    return found


def twelve(record: dict[str, Any], field: str, default: float) -> list[float]:
    """Twelve numbers of a field, the default where it is absent."""
    found = record.get(field)
    if not found:
        return [default] * 12
    if not isinstance(found, list) or len(found) != 12:
        raise RecordError(f"{field} must hold twelve values")
    return [number({field: v}, field, default) for v in found]


def number(block: dict[str, Any], field: str, default: float | None) -> float:
    """The number of a field. RecordError for anything else."""
    value = block.get(field, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise RecordError(f"{field} must be a number, got {value!r}")
    return float(value)


def per_month(units: str, field: str) -> float:
    """Times a month of a unit of the record."""
    if units not in PER_MONTH:
        raise RecordError(f"{field} is {units!r}: $/month, $/day and $/year are known")
    return PER_MONTH[units]
