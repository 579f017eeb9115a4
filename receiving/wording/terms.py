"""The terms of the trade that the model's enums stand for, each as a message."""

from enum import Enum

from receiving.messages import Message, message
from receiving.model import CartonKind, CartonState, FollowUp, HandOver, OverReason, Place, RequestReason, SizeClass

_TERMS: dict[Enum, Message] = {
    CartonKind.TRAY: message("tray"),
    CartonKind.REPLACEMENT_TRAY: message("replacement tray"),
    CartonKind.HEADER: message("header"),
    CartonKind.GRAPHIC: message("graphic"),
    CartonKind.PARTS: message("parts"),
    CartonKind.LIGHTING: message("lighting"),
    CartonKind.TAGS: message("tags"),
    CartonKind.INSTRUCTIONS: message("instructions"),
    CartonKind.OUTER: message("outer"),
    CartonKind.OTHER: message("other"),
    CartonState.RECEIVED: message("here"),
    CartonState.INSIDE: message("inside, not seen"),
    CartonState.SHORT: message("missing"),
    OverReason.OTHER_STORE: message("another store's carton"),
    OverReason.OTHER_SHIPMENT: message("a carton of another shipment"),
    OverReason.NOT_ON_MANIFEST: message("not on the manifest"),
    OverReason.NOT_A_CARTON_LABEL: message("not a carton label"),
    Place.DOCK: message("dock"),
    Place.BACK_ROOM: message("back room"),
    Place.OVERHEAD: message("overhead"),
    Place.SALES_FLOOR: message("sales floor"),
    Place.OTHER: message("other"),
    FollowUp.ON_ITS_WAY: message("found on its way"),
    FollowUp.SENT_AGAIN: message("sent again"),
    FollowUp.NOT_COMING: message("will not come"),
    FollowUp.DONE_WITHOUT: message("done without"),
    HandOver.FLOOR_TO_CART: message("floor to cart"),
    HandOver.PALLET_TO_CART: message("pallet to cart"),
    HandOver.CART_TO_FLOOR: message("cart to floor"),
    HandOver.CART_TO_SHELF: message("cart to shelf"),
    SizeClass.SMALL: message("small"),
    SizeClass.MEDIUM: message("medium"),
    SizeClass.LARGE: message("large"),
    SizeClass.LONG: message("long"),
    RequestReason.CARTON_MISSING: message("carton did not arrive"),
    RequestReason.CONTENT_MISSING: message("not in the carton"),
    RequestReason.ARRIVED_DAMAGED: message("arrived damaged"),
    RequestReason.DAMAGED_IN_WORK: message("damaged during the work"),
    RequestReason.EXISTING_WORN: message("worn on the fixture"),
    RequestReason.EXISTING_MISSING: message("missing from the fixture"),
    RequestReason.WRONG_ITEM: message("wrong item in the carton"),
    RequestReason.WRONG_SIDE: message("made for the other side"),
}


def term(value: Enum) -> Message:
    """The term for a value of one of the model's enums."""
    return _TERMS[value]
