"""One carton of the manifest to edit: kind, open first, places; and what the edit would change."""

from dataclasses import dataclass
from typing import ClassVar

from receiving.errors import NotFound, ReceivingError
from receiving.messages import Text, message, opening
from receiving.model import Carton, CartonKind, ContentLine, Manifest
from receiving.service import CartonEdit, RevisionPreview, TypedPlace
from receiving.wording import term
from web.pages.problem import Trouble, trouble_of


@dataclass(frozen=True)
class KindOption:
    """One kind to choose."""

    value: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class PlaceField:
    """The place of one content line as typed; ``what`` is empty for a place to be added."""

    number: int
    what: Text
    section: str
    column: str
    row: str


@dataclass(frozen=True)
class CartonEditPage:
    """The form of a carton. ``follows`` is the revision that it was filled from."""

    template: ClassVar[str] = "office_carton_edit.html"

    shipment: str
    store: str
    carton: str
    kinds: tuple[KindOption, ...]
    open_first: bool
    places: tuple[PlaceField, ...]
    sections: tuple[str, ...]
    trouble: Trouble | None

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Carton {carton} on the manifest", carton=self.carton)


@dataclass(frozen=True)
class CartonCheckPage:
    """What an edit would change, with the edit to send again."""

    template: ClassVar[str] = "office_carton_check.html"

    shipment: str
    store: str
    carton: str
    kind: str
    open_first: bool
    places: tuple[PlaceField, ...]
    follows: int
    revision: int
    changes: tuple[Text, ...]

    title: ClassVar[Text] = message("Check before saving")


def edit_of(manifest: Manifest, carton_id: str) -> CartonEdit:
    """The carton as it is, as the form has it. Raises NotFound."""
    carton = _carton(manifest, carton_id)
    return CartonEdit(carton.kind.value, carton.open_first, tuple(_typed(line) for line in carton.contents))


def carton_edit_page(
    manifest: Manifest, carton_id: str, edit: CartonEdit, fault: ReceivingError | None = None
) -> CartonEditPage:
    """The form of a carton with what was typed. Raises NotFound."""
    carton = _carton(manifest, carton_id)
    return CartonEditPage(
        shipment=manifest.shipment,
        store=manifest.store,
        carton=carton_id,
        kinds=tuple(KindOption(k.value, opening(term(k)), k.value == edit.kind) for k in CartonKind),
        open_first=edit.open_first,
        places=_fields(carton, (*edit.places, *_one_more(carton, edit))),
        sections=tuple(dict.fromkeys(section for each in manifest for section in each.sections)),
        trouble=trouble_of(fault),
    )


def carton_check_page(
    manifest: Manifest, carton_id: str, edit: CartonEdit, preview: RevisionPreview
) -> CartonCheckPage:
    """What the edit would change. Raises NotFound."""
    return CartonCheckPage(
        shipment=manifest.shipment,
        store=manifest.store,
        carton=carton_id,
        kind=edit.kind,
        open_first=edit.open_first,
        places=_fields(_carton(manifest, carton_id), edit.places),
        follows=preview.follows,
        revision=preview.follows + 1,
        changes=preview.changes,
    )


def _carton(manifest: Manifest, carton_id: str) -> Carton:
    carton = manifest.find(carton_id)
    if carton is None:
        raise NotFound(
            message(
                "Carton {carton_id} is not on the manifest of shipment {shipment}.",
                carton_id=repr(carton_id),
                shipment=repr(manifest.shipment),
            ),
            next_step=message("Choose a carton from its planogram."),
        )
    return carton


def _typed(line: ContentLine) -> TypedPlace:
    cell = (str(line.address.column), str(line.address.row)) if line.address else ("", "")
    return TypedPlace(line.section, *cell)


def _one_more(carton: Carton, edit: CartonEdit) -> tuple[TypedPlace, ...]:
    """An empty place to fill, unless there is one already."""
    return () if TypedPlace() in edit.places[len(carton.contents) :] else (TypedPlace(),)


def _fields(carton: Carton, places: tuple[TypedPlace, ...]) -> tuple[PlaceField, ...]:
    whats: list[Text] = [_what(line) for line in carton.contents]
    whats += [""] * (len(places) - len(whats))
    return tuple(
        PlaceField(number, what, place.section, place.column, place.row)
        for number, (what, place) in enumerate(zip(whats, places, strict=False), 1)
    )


def _what(line: ContentLine) -> Text:
    counted = f"{line.qty} {line.unit}".strip() if line.qty else ""
    return " ".join(part for part in (counted, line.item, line.description) if part) or message("Place")
