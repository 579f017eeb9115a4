"""No bound and no proof of "impossible" above what is known to be possible, over loads that are built, not searched.

    python tests/bench/staging_known_loads.py [--cases 2000] [--seed 1] [--effort 0.3]

Each case cuts one to three whole carts into cartons: the deck into rectangles (guillotine cuts at whole millimetres, or
at 5 mm and 50 mm), each rectangle's column into cartons that fill it, the heaviest below, some with a fragile or an
open-first one on top; or a plate is laid over two columns of one height. So the cartons ride on that many carts, and on
no fewer, since they fill them. Every fourth case is what found a place at random whole millimetres instead, on the deck
or hanging over on others, by the loader's rules: it does not fill the cart. Counted are

- bounds of `staging.bounds` above that number;
- one cart's cartons that `staging.constraints` calls impossible on one cart;
- loads that it gives and that break a rule of `tests/staging/load_checker.py`.

All three must be 0: the script stops at the first that is not.
"""

import argparse
import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from receiving.model import Address, Carton, CartonKind, ContentLine
from receiving.staging.bounds import bound_trips
from receiving.staging.constraints import Answer, fit_on_carts
from receiving.staging.floor import spot_of
from receiving.staging.loading import CartLoad, Placement
from receiving.staging.loads import Deck, Load
from tests.staging.load_checker import boxes_of, check_placement

DECKS = (Deck(400_000, 1200, 600, 1200), Deck(300_000, 900, 600, 900), Deck(300_000, 1190, 605, 1000))
Cut = tuple[int, int]


def cut_up(rng: random.Random, length: int, width: int, step: int, pieces: int) -> list[Cut]:
    """The rectangle in up to this many, by straight cuts from edge to edge at whole steps."""
    parts = [(length, width)]
    while len(parts) < pieces:
        parts.sort(key=lambda part: part[0] * part[1])
        one, other = parts.pop()
        along = max(one, other)
        at = step * rng.randint(1, max(1, (along - 1) // step))
        if at >= along:
            return [*parts, (one, other)]
        parts += [(at, min(one, other)), (along - at, min(one, other))]
    return parts


def column(rng: random.Random, base: Cut, height: int, step: int, count: int) -> list[Load]:
    """Cartons that fill the column over this base, from the deck up."""
    cuts = sorted(rng.sample(range(step, height, step), min(count - 1, (height - 1) // step)))
    heights = [upper - lower for lower, upper in zip([0, *cuts], [*cuts, height], strict=True)]
    weights = sorted((rng.randint(500, 12_000) for _ in heights), reverse=True)
    length, width = max(base), min(base)
    made = [Load("", weight, length, width, high) for weight, high in zip(weights, heights, strict=True)]
    top = made[-1]
    fragile, first = rng.random() < 0.3, rng.random() < 0.15
    made[-1] = Load("", top.weight_g, length, width, top.height_mm, fragile, first)
    return made


def with_a_plate(rng: random.Random, deck: Deck, step: int) -> list[Load]:
    """Two columns of one height over the whole deck, and a plate over both that fills the rest."""
    high = step * rng.randint(1, (deck.height_mm - 1) // step)
    half = step * rng.randint(max(1, deck.length_mm // (3 * step)), max(1, deck.length_mm // (2 * step)))
    loads = []
    for length in (half, deck.length_mm - half):
        parts = column(rng, (length, deck.width_mm), high, step, rng.randint(1, 3))
        loads += [Load("", 12_000, one.length_mm, one.width_mm, one.height_mm) for one in parts]
    plate = Load("", rng.randint(500, 14_000), deck.length_mm, deck.width_mm, deck.height_mm - high, rng.random() < 0.5)
    return [*loads, plate]


def whole_cart(rng: random.Random, deck: Deck, step: int) -> list[Load]:
    if rng.random() < 0.25:
        return with_a_plate(rng, deck, step)
    bases = cut_up(rng, deck.length_mm, deck.width_mm, step, rng.randint(1, 4))
    return [load for base in bases for load in column(rng, base, deck.height_mm, step, rng.randint(1, 4))]


def placed_at_random(rng: random.Random, deck: Deck) -> list[Load]:
    """Cartons of odd sizes at places drawn at random, each of which keeps the rules of loading on those before it."""
    cart = CartLoad(deck)
    for number in range(200):
        sides = sorted((rng.randint(100, deck.width_mm - 1), rng.randint(100, deck.length_mm)), reverse=True)
        load = Load(f"{number}", rng.randint(500, 9_000), *sides, rng.randint(40, 300), rng.random() < 0.3)
        length, width = sides if rng.random() < 0.7 or sides[0] > deck.width_mm else sides[::-1]
        x, y = rng.randint(0, deck.length_mm - length), rng.randint(0, deck.width_mm - width)
        below = [
            one
            for one in cart.placements
            if x < one.x_mm + one.length_mm
            and one.x_mm < x + length
            and y < one.y_mm + one.width_mm
            and one.y_mm < y + width
        ]
        placed = Placement(load, x, y, max((one.top_mm for one in below), default=0), length, width)
        if placed.top_mm <= deck.height_mm and cart.takes(placed):
            cart.add(placed)
    return [one.load for one in cart.placements]


def named(loads: list[Load], first: int) -> list[Load]:
    return [
        Load(f"{number}", one.weight_g, one.length_mm, one.width_mm, one.height_mm, one.fragile, one.open_first)
        for number, one in enumerate(loads, start=first)
    ]


def broken_rules(answer: Answer, deck: Deck) -> list[str]:
    """The rules that an answer's carts break, by the checker."""
    found = []
    for placed in answer.carts or ():
        cartons = {one.load.carton: as_carton(one.load) for one in placed}
        boxes = boxes_of([spot_of(one) for one in placed], cartons)
        found += [violation.rule for violation in check_placement(boxes, "cart")]
    return found


def as_carton(load: Load) -> Carton:
    return Carton(
        load.carton,
        CartonKind.GRAPHIC if load.fragile else CartonKind.PARTS,
        open_first=load.open_first,
        contents=(ContentLine("Sol", Address("Sol", 1, 1)),),
        weight_kg=load.weight_g / 1000,
        length_cm=load.length_mm / 10,
        width_cm=load.width_mm / 10,
        height_cm=load.height_mm / 10,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--effort", type=float, default=0.3)
    asked = parser.parse_args()
    counted: Counter[str] = Counter()
    for number in range(asked.seed, asked.seed + asked.cases):
        rng = random.Random(number)
        deck, step, count = rng.choice(DECKS), rng.choice((1, 5, 50)), rng.choice((1, 1, 2, 3))
        carts: list[list[Load]] = []
        for _ in range(count):
            made = whole_cart(rng, deck, step) if number % 4 else placed_at_random(rng, deck)
            carts.append(named(made, sum(map(len, carts))))
        loads = [load for cart in carts for load in cart]
        rng.shuffle(loads)
        assert bound_trips(loads, deck) <= count, f"case {number}: a bound above {count} carts"
        counted["bounds that say it exactly"] += bound_trips(loads, deck) == count
        one = rng.sample(carts[0], len(carts[0]))
        answer = fit_on_carts(one, deck, 1, asked.effort)
        assert not answer.impossible, f"case {number}: one cart's cartons are called impossible"
        assert not broken_rules(answer, deck), f"case {number}: {broken_rules(answer, deck)}"
        counted["one cart's loads found"] += answer.carts is not None
    print(f"{asked.cases} cases: nothing possible was called impossible, no rule broken")
    for what, times in sorted(counted.items()):
        print(f"  {what}: {times}")


if __name__ == "__main__":
    main()
