"""The assignment behind partly read labels, held against published values, networkx and every permutation."""

from itertools import permutations

import networkx
import numpy
import pytest

from receiving.matching.assignment import NEVER, Choice, Row, assign, least_cost


def test_the_worked_example_of_three_people_and_three_chores() -> None:
    # Source: Wikipedia, "Hungarian algorithm", the Alice, Bob, Carol example (least cost 15); from memory.
    assert least_cost([[8, 4, 7], [5, 2, 3], [9, 4, 8]]) == ((0, 2, 1), 15.0)


def test_the_worked_examples_of_workers_and_tasks() -> None:
    # Source: https://developers.google.com/optimization/assignment/linear_assignment, least cost 265.
    costs = [[90, 76, 75, 70], [35, 85, 55, 65], [125, 95, 90, 105], [45, 110, 95, 115]]
    assert least_cost(costs) == ((3, 2, 1, 0), 265.0)
    # Source: https://developers.google.com/optimization/assignment/assignment_example, least cost 265: the fifth worker
    # has no task. Here by task, since each row is to be placed.
    costs = [[90, 80, 75, 70], [35, 85, 55, 65], [125, 95, 90, 95], [45, 110, 95, 115], [50, 100, 90, 100]]
    assert least_cost(list(zip(*costs, strict=True))) == ((3, 2, 1, 0), 265.0)


@pytest.mark.parametrize("n", range(1, 41))
def test_machol_and_wien_instances(n: int) -> None:
    # Source: R. E. Machol, M. Wien, "A 'hard' assignment problem", Operations Research 24 (1976): c_ij = i * j.
    # By the rearrangement inequality the least sum pairs i with n + 1 - i: n (n + 1) (n + 2) / 6.
    columns, total = least_cost([[i * j for j in range(1, n + 1)] for i in range(1, n + 1)])
    assert (columns, total) == (tuple(reversed(range(n))), n * (n + 1) * (n + 2) / 6)


def test_the_mean_of_random_instances_is_parisis() -> None:
    # Source: S. Linusson, J. Wästlund, "A proof of Parisi's conjecture on the random assignment problem",
    # Probability Theory and Related Fields 128 (2004): exponential costs of mean 1 give 1 + 1/4 + ... + 1/n^2.
    draws, n = 4000, 8
    random = numpy.random.default_rng(20260302)
    sums = [least_cost(random.exponential(size=(n, n)).tolist())[1] for _ in range(draws)]
    wanted = sum(1 / k**2 for k in range(1, n + 1))
    assert abs(numpy.mean(sums) - wanted) < 4 * numpy.std(sums) / draws**0.5


def test_random_instances_cost_what_networkx_says() -> None:
    random = numpy.random.default_rng(7)
    for _ in range(60):
        rows, columns = int(random.integers(1, 8)), int(random.integers(8, 12))
        costs = random.integers(0, 100, size=(rows, columns)).tolist()
        graph = networkx.Graph()
        graph.add_weighted_edges_from(
            (("label", r), ("carton", c), costs[r][c]) for r in range(rows) for c in range(columns)
        )
        pairs = networkx.bipartite.minimum_weight_full_matching(graph, [("label", r) for r in range(rows)])
        assert least_cost(costs)[1] == sum(costs[r][pairs["label", r][1]] for r in range(rows))


def every_answer(rows: list[Row]) -> list[tuple[float, tuple[str, ...]]]:
    """All assignments of these rows with their sums, by trying every way; for rows that share nothing."""
    cartons = sorted({carton for row in rows for carton, _ in row.own})
    slots = [*cartons, *[""] * len(rows)]
    answers = {}
    for choice in set(permutations(slots, len(rows))):
        costs = [dict(row.own).get(c, NEVER) if c else row.none for row, c in zip(rows, choice, strict=True)]
        answers[choice] = sum(costs)
    return [(total, choice) for choice, total in answers.items()]


def test_the_margin_is_the_distance_to_the_best_answer_that_differs() -> None:
    random = numpy.random.default_rng(11)
    for _ in range(40):
        rows = [
            Row(tuple((c, float(random.uniform(0, 6))) for c in "ABCD" if random.random() < 0.7), (), 5.3)
            for _ in range(int(random.integers(1, 4)))
        ]
        answers = every_answer(rows)
        best, chosen = min(answers)
        for n, choice in enumerate(assign(rows, question_below=3.0)):
            others = min((total for total, answer in answers if answer[n] != chosen[n]), default=NEVER)
            assert choice.carton == chosen[n]
            assert choice.gap_nats == pytest.approx(others - best)


def test_labels_that_compete_are_placed_so_that_the_sum_is_least() -> None:
    rows = [Row((("A", 0.0), ("B", 4.0)), (), 9.0), Row((("A", 0.1),), (), 9.0)]
    first, second = assign(rows, question_below=3.0)
    assert (first.carton, second.carton) == ("B", "A")


def test_a_label_that_fits_two_cartons_alike_has_no_margin() -> None:
    assert assign([Row((("A", 0.0), ("B", 0.0)), (), 5.3)], question_below=3.0) == (Choice("A", False, 0.0, ("B",)),)
