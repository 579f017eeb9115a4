import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "bench"))
from carton_pile import pile
from carton_render import draw, photograph_room
from carton_scene import Block, Lamp, Room, Sticker, Viewpoint
from photo_model import Look, to_picture

WHITE = np.full((180, 120, 3), 255, np.uint8)
LAMPS = (Lamp(((-50, -40, 240), (50, -40, 240)), 0.9),)
VIEW = Viewpoint((0, -60, 25), (0, 50, 15), (320, 240), 60)
CARTON = Block((0, 50, 0), (40, 30, 25), stickers=(Sticker("07", WHITE),))


def room(*blocks: Block, lamps: tuple[Lamp, ...] = LAMPS) -> Room:
    return Room(blocks, lamps, span_cm=160)


def test_a_label_in_full_view_is_where_the_truth_says() -> None:
    light, seen = draw(room(CARTON), VIEW, np.random.default_rng(1))
    assert [(label.name, label.visible) for label in seen] == [("07", pytest.approx(1, abs=0.05))]
    picture = to_picture(light)[..., 0].astype(int)  # blue: paper has it, board has little
    middle = seen[0].quad_px.mean(0)
    edge = seen[0].quad_px[[1, 2]].mean(0)
    inside, outside = (middle + (edge - middle) * part for part in (0.8, 1.3))
    assert picture[int(inside[1]), int(inside[0])] > picture[int(outside[1]), int(outside[0])] + 40


def test_a_carton_in_front_hides_a_label_and_the_truth_knows() -> None:
    half = Block((-10.2, 20, 0), (20, 10, 40))
    whole = Block((0, 20, 0), (40, 10, 40))
    _, seen_half = draw(room(CARTON, half), VIEW, np.random.default_rng(1))
    _, seen_none = draw(room(CARTON, whole), VIEW, np.random.default_rng(1))
    assert seen_half[0].visible == pytest.approx(0.5, abs=0.12)
    assert seen_none == []


def test_a_carton_throws_a_shadow_away_from_the_lamp() -> None:
    aside = (Lamp(((150, 40, 90), (150, 60, 90)), 0.9),)
    lit, _ = draw(room(lamps=aside), VIEW, np.random.default_rng(1))
    shaded, _ = draw(room(CARTON, lamps=aside), VIEW, np.random.default_rng(1))
    column, row = VIEW.project(np.array([[-30.0, 45.0, 0.0]]))[0, :2].astype(int)
    floor = (slice(row - 4, row + 4), slice(column - 6, column + 6))
    assert shaded[floor].mean() < lit[floor].mean() * 0.7


def test_the_same_seed_gives_the_same_photo() -> None:
    one, two = (photograph_room(room(CARTON), VIEW, Look(noise=4), np.random.default_rng(7))[0] for _ in range(2))
    assert np.array_equal(one, two)


def test_a_pile_shows_every_label_that_it_was_given() -> None:
    photo, seen = pile(dict.fromkeys("abcd", WHITE), np.random.default_rng(3), look=Look(), size_px=(400, 300))
    assert photo.shape == (300, 400, 3)
    assert {label.name for label in seen} == set("abcd")
    assert all(label.visible > 0.9 for label in seen)
