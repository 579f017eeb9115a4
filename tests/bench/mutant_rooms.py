"""The rooms whose mutants are tried, each with the tests that may kill them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Room:
    """The files that are mutated, and the tests that may kill; ``in_process`` False: each test starts processes.

    ``left_out``: tests that take longer than a mutant may, or whose work is done in processes that are not mutated.
    """

    files: tuple[str, ...]
    tests: tuple[str, ...]
    in_process: bool = True
    left_out: tuple[str, ...] = ()


ROOMS = {
    "gs1": Room(
        ("receiving/reading/gs1*.py",),
        (
            "tests/reading/test_gs1.py",
            "tests/reading/test_gs1.py",
            "tests/reading/test_claims.py",
            "tests/reading/test_scans.py",
            "tests/reading/test_scanner.py",
            "tests/reading/test_printed.py",
            "tests/checks/test_gs1_vectors.py",
            "tests/checks/test_symbols_to_claims.py",
            "receiving/reading/gs1.py",
            "receiving/reading/gs1_rules.py",
        ),
    ),
    "staging": Room(
        ("receiving/staging/*.py",),
        (
            "tests/staging",
            "tests/checks/test_bin_packing.py",
            "tests/checks/test_container_loads.py",
            "tests/checks/test_rectangle_packings.py",
            "tests/checks/test_niosh.py",
            "receiving/staging",
        ),
        left_out=(
            "tests/staging/test_fewest_by_enumeration.py",
            "tests/staging/test_stops.py::test_no_grouping_has_fewer_stops_than_the_bound_and_the_plan_has_no_more_than_one_"
            "above_the_best",
            "tests/staging/test_stops.py::test_an_open_first_carton_rides_first_and_the_bound_still_holds",
            "tests/staging/test_trips.py::test_triplets_of_249_are_packed_to_their_published_optimum",
            "tests/staging/test_trips.py::test_whatever_people_moved_and_pinned_the_plan_holds_and_keeps_it",
            "tests/staging/test_trips.py::test_forty_sturdy_cartons_fill_two_large_carts_as_far_as_the_bound",
            "tests/staging/test_loads_can_be_carried_out.py::test_whatever_the_sizes_and_weights_a_load_keeps_the_rules",
        ),
    ),
    "matching": Room(
        ("receiving/matching/*.py",),
        (
            "tests/matching",
            "tests/checks/test_allocation.py",
            "tests/checks/test_assignment.py",
            "tests/checks/test_carton_numbers.py",
            "tests/closing/test_printed_papers.py",
            "tests/service/test_replacing.py",
            "receiving/matching",
        ),
    ),
    "store": Room(
        ("receiving/store/*.py",),
        (
            "tests/store",
            "tests/service/test_service.py",
            "tests/service/test_accounts.py",
            "tests/service/test_list_pages.py",
            "tests/service/test_retention.py",
            "tests/service/test_webhooks.py",
            "receiving/store",
        ),
        left_out=("tests/store/test_failing_disk.py",),
    ),
    "x12": Room(
        ("receiving/expected/interchange.py", "receiving/expected/edi*.py", "receiving/expected/asn856*.py"),
        (
            "tests/expected",
            "tests/checks/test_edi_samples.py",
            "tests/checks/test_edi_tokenizers.py",
            "tests/checks/test_x12_envelopes.py",
        ),
    ),
    "guided": Room(
        (
            "receiving/reading/guided/decision.py",
            "receiving/reading/guided/compare.py",
            "receiving/reading/guided/unexpected.py",
        ),
        ("tests/reading/guided",),
    ),
    "closing": Room(
        ("receiving/closing/*.py",),
        (
            "tests/closing",
            "tests/checks/test_code128_examples.py",
            "tests/checks/test_symbols_of_another_encoder.py",
            "tests/service/test_issued_files.py",
            "tests/service/test_records.py",
            "tests/service/test_retention.py",
            "receiving/closing",
        ),
    ),
    "commands": Room(("receiving/cli.py", "receiving/commands/*.py"), ("tests/commands",)),
    "setup": Room(
        ("receiving/setup.py", "receiving/__main__.py"), ("tests/test_setup.py", "tests/test_setup_steps.py")
    ),
}
