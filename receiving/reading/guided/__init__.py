"""Guided reading: a blurred, dim, crumpled or partly torn symbol, read by comparing it with the codes expected."""

from typing import Any

__all__ = ["candidate_regions", "guided_symbols"]


def __getattr__(name: str) -> Any:
    """The doors, imported when first asked for: they load OpenCV and SciPy."""
    if name == "guided_symbols":
        from receiving.reading.guided.reader import guided_symbols

        return guided_symbols
    if name == "candidate_regions":
        from receiving.reading.guided.regions import candidate_regions

        return candidate_regions
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
