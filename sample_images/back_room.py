"""The demo's back room, photo by photo: which carton stands where, how its label sits, where the phone was.

Lengths in cm as in `carton_scene`. A carton's size is that of the manifest, turned as it lies. What each scene is
for stands in ``what``; the README tells the whole.
"""

from dataclasses import dataclass

from carton_scene import Block, Lamp, Viewpoint, pallet
from photo_model import Look

PALE, BROWN, DARK, GREY = (122, 158, 190), (112, 148, 182), (100, 136, 168), (124, 150, 174)


@dataclass(frozen=True)
class Stuck:
    """A label on the carton of the same name; ``expected`` is what a careful reader gets: sscc, barcode, address."""

    label: str
    face: str = "front"
    at_cm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 0.0
    torn: float = 0.0
    expected: str = "sscc"
    remark: str = ""


@dataclass(frozen=True)
class Scene:
    """One photo."""

    name: str
    what: str
    blocks: tuple[Block, ...]
    stuck: tuple[Stuck, ...]
    view: Viewpoint
    look: Look
    lamps: tuple[Lamp, ...] = (
        Lamp(((-150, -60, 250), (-20, -60, 250)), 0.55),
        Lamp(((60, 10, 250), (180, 10, 250)), 0.35),
    )
    ambient: float = 0.35
    tint: tuple[float, float, float] = (0.94, 1.0, 1.0)
    wall_y_cm: float = 105.0
    floor_cm: float = 30.0
    exif_orientation: int = 1


def carton(
    name: str, at: tuple[float, float, float], size: tuple[float, float, float], yaw: float = 0.0, **more: float
) -> Block:
    """A cardboard carton; its colour follows from its name."""
    colour = (PALE, BROWN, DARK, GREY)[sum(name.encode()) % 4]
    return Block(at, size, yaw, colour=colour, name=name, **more)


RACK = (
    Block((62, 96, 0), (6, 6, 220), surface="steel", colour=(150, 84, 40)),
    Block((62, 62, 0), (6, 6, 220), surface="steel", colour=(150, 84, 40)),
    Block((122, 62, 88), (114, 5, 9), surface="steel", colour=(36, 96, 214)),
    Block((122, 96, 88), (114, 5, 9), surface="steel", colour=(36, 96, 214)),
    Block((122, 79, 97), (114, 38, 2), surface="wood"),
    Block((96, 80, 99), (42, 30, 26), 4, colour=GREY, name="own"),
)

PALLET = Scene(
    "pallet",
    "Five cartons on a pallet, straight on, good light.",
    (
        *pallet(0, 55),
        *RACK,
        carton("18", (-26, 50, 14.4), (46, 36, 26), 2.5),
        carton("20", (27, 51, 14.4), (46, 36, 26), -3.5),
        carton("19", (-25, 51, 40.4), (46, 36, 22), -5),
        carton("03", (26, 52, 40.4), (44, 32, 20), 7),
        carton("02", (-22, 53, 62.4), (40, 30, 22), 3),
    ),
    (
        Stuck("18", at_cm=(-9, 1), turn_deg=1.5),
        Stuck("20", at_cm=(8, -1), turn_deg=-2),
        Stuck("19", at_cm=(5, 0), turn_deg=2),
        Stuck("03", at_cm=(-7, 0), turn_deg=-3),
        Stuck("02", at_cm=(2, 0), turn_deg=1),
    ),
    Viewpoint((6, -46, 72), (3, 50, 49), (4000, 3000), 62, 1.2),
    Look(defocus_px=1.0, shade=0.08, noise=3.0, jpeg=84),
)

_STACK = (
    carton("04", (-52, 52, 0), (44, 32, 20), 3),
    carton("10", (-50, 53, 20), (44, 32, 20), -4),
    carton("06", (-53, 52, 40), (44, 32, 20), 6),
    carton("own", (0, 54, 0), (44, 34, 24), -2),
    carton("05", (-1, 52, 24), (44, 32, 20), 4),
    carton("11", (53, 53, 0), (48, 36, 22), -3),
    carton("07", (52, 52, 22), (44, 32, 20), 5),
    carton("08", (50, 52, 42), (40, 30, 20), -6),
)
_STACK_STUCK = (
    Stuck("04", at_cm=(-6, 0), turn_deg=-2),
    Stuck("10", at_cm=(4, 0), turn_deg=3),
    Stuck("06", at_cm=(-3, 0), turn_deg=-1),
    Stuck("05", at_cm=(0, 0), turn_deg=2, remark="on two photos: stack_left and stack_right"),
    Stuck("11", at_cm=(5, 0), turn_deg=1),
    Stuck("07", at_cm=(6, 0), turn_deg=-4),
    Stuck("08", at_cm=(0, 0), turn_deg=180, remark="upside down"),
)
STACK_LEFT = Scene(
    "stack_left",
    "A stack along the wall from the left, a shadow over a part of it.",
    _STACK,
    _STACK_STUCK,
    Viewpoint((-38, -38, 62), (-31, 50, 31), (3600, 2700), 64, -2.0),
    Look(defocus_px=1.1, shade=0.25, shadow=0.45, noise=4.0, jpeg=84),
)
STACK_RIGHT = Scene(
    "stack_right",
    "The same stack from the right: one carton is on both photos.",
    _STACK,
    _STACK_STUCK,
    Viewpoint((44, -36, 66), (31, 50, 31), (3600, 2700), 64, 2.5),
    Look(defocus_px=1.2, shade=0.2, noise=4.0, exposure=0.9, jpeg=84),
)

CORNER = Scene(
    "corner",
    "A torn label whose bars are gone, and a long carton whose label is seen from the side.",
    (
        carton("09", (-56, 38, 0), (88, 34, 20), 88),
        carton("own", (-62, 56, 20), (50, 40, 24), 94),
        *RACK,
        carton("14", (4, 52, 0), (44, 32, 20), -3),
        carton("12", (5, 53, 20), (44, 32, 20), 4),
        carton("15", (50, 50, 0), (40, 30, 20), -14),
    ),
    (
        Stuck("09", at_cm=(-6, 0), turn_deg=1, remark="seen at a steep angle"),
        Stuck("14", at_cm=(-4, 0), turn_deg=2),
        Stuck(
            "12",
            at_cm=(-2, 0),
            turn_deg=-2,
            torn=0.46,
            expected="address",
            remark="torn: bars, QR and Data Matrix gone",
        ),
        Stuck("15", at_cm=(-2, 0), turn_deg=-5),
    ),
    Viewpoint((6, -40, 58), (2, 50, 20), (4000, 3000), 68, -1.0),
    Look(defocus_px=0.9, shade=0.15, noise=3.5, jpeg=84),
)

LEANING = Scene(
    "leaning",
    "Flat cartons that lean on the wall, little light, an unsteady hand; the phone was held upright.",
    (
        carton("17", (-22, 88, 0), (80, 8, 60), 2, lean_deg=9),
        carton("22", (10, 70, 0), (70, 8, 55), -6, lean_deg=14),
        carton("01", (-14, 38, 0), (34, 26, 10), 12),
    ),
    (
        Stuck("17", at_cm=(-10, -18), turn_deg=-1),
        Stuck("22", at_cm=(8, -6), turn_deg=3),
        Stuck("01", face="top", at_cm=(-2, 0), turn_deg=90),
    ),
    Viewpoint((-4, -20, 86), (-4, 62, 27), (3000, 4000), 52, 1.5),
    Look(defocus_px=0.9, motion_px=1.7, motion_deg=35, shade=0.3, noise=4.5, exposure=0.58, jpeg=83),
    exif_orientation=6,
)

DOOR = Scene(
    "by_the_door",
    "Cartons on the floor by the door from above, glare; one of them belongs to another store.",
    (
        carton("16", (-2, 56, 0), (92, 36, 20), 4),
        carton("24", (-36, 14, 0), (38, 28, 20), -12),
        carton("other/04", (10, 16, 0), (44, 32, 20), 9),
        carton("23", (52, 20, 0), (34, 26, 18), -20),
    ),
    (
        Stuck("16", face="top", at_cm=(14, 0), turn_deg=-93),
        Stuck("24", face="top", at_cm=(0, 0), turn_deg=4, expected="barcode", remark="plain Code 128, no SSCC"),
        Stuck("other/04", face="top", at_cm=(-4, 2), turn_deg=-6, remark="of another store's shipment"),
        Stuck("23", face="top", at_cm=(0, 0), turn_deg=8),
    ),
    Viewpoint((4, -10, 104), (5, 34, 8), (4000, 3000), 64, 3.0),
    Look(defocus_px=1.0, shade=0.15, glare=0.5, glare_at=(-0.62, 0.28), glare_spread=0.1, noise=4.0, jpeg=84),
    floor_cm=60.0,
)

SCENES = (PALLET, STACK_LEFT, STACK_RIGHT, CORNER, LEANING, DOOR)
