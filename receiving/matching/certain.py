"""What surely names one carton of a manifest, for a device that has to answer while the service is out of reach."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from receiving.matching.catalogue import Catalogue, codes_of, number_of
from receiving.matching.identify import identify
from receiving.matching.judgements import Candidates, Matched
from receiving.matching.observations import Observation
from receiving.model import SHORTEST_FOLDED, LabelRead


@dataclass(frozen=True)
class CertainNames:
    """Carton ids by every form of their codes, empty where several cartons share it; and by what a person may type.

    ``typed`` has numbers without leading zeros, ids and short codes in lower case, and places as ``column-row``, each
    only where it means one carton and nothing else.
    """

    codes: dict[str, str]
    typed: dict[str, str]


def certain_names(catalogue: Catalogue, typed_read: Callable[[str], LabelRead]) -> CertainNames:
    """What surely names one carton; ``typed_read`` gives the read of a text that a person typed."""
    codes = {form: names[0] if len(names) == 1 else "" for form, names in catalogue.by_form.items()}
    typed = {text: _alone(catalogue, typed_read(text)) for text in dict.fromkeys(_texts(catalogue))}
    return CertainNames(codes, {text: carton for text, carton in typed.items() if carton})


def _texts(catalogue: Catalogue) -> Iterator[str]:
    for name in catalogue.by_id:
        number = number_of(name)
        yield name.casefold()
        yield from [str(number)] if number is not None else []
        yield from (code.casefold() for code in codes_of(catalogue.by_id[name]) if len(code) < SHORTEST_FOLDED)
    yield from (f"{column}-{row}" for column, row in catalogue.by_cell)


def _alone(catalogue: Catalogue, read: LabelRead) -> str:
    """The carton that this read says whatever else is read; empty where it leaves a doubt."""
    stated = identify(Observation((read,)), catalogue)
    if isinstance(stated, Matched):
        return stated.carton
    if isinstance(stated, Candidates) and stated.ask is None and len(stated.cartons) == 1:
        return stated.cartons[0]
    return ""
