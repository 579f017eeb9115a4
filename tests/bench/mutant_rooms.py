"""The rooms whose mutants are tried, each with the tests that may kill them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Room:
    """The files that are mutated, and the tests that may kill; ``in_process`` False: each test starts processes."""

    files: tuple[str, ...]
    tests: tuple[str, ...]
    in_process: bool = True


ROOMS = {
    "gs1": Room(
        ("receiving/reading/gs1*.py",),
        (
            "tests/reading/test_gs1.py",
            "tests/reading/test_gs1_values.py",
            "tests/reading/test_claims.py",
            "tests/reading/test_scans.py",
            "tests/reading/test_scanner.py",
            "tests/reading/test_printed_text.py",
            "tests/checks/test_gs1_vectors.py",
            "tests/checks/test_symbols_to_claims.py",
            "receiving/reading/gs1.py",
            "receiving/reading/gs1_dictionary.py",
            "receiving/reading/gs1_values.py",
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
    ),
    "matching": Room(
        ("receiving/matching/*.py",),
        (
            "tests/matching",
            "tests/checks/test_allocation.py",
            "tests/checks/test_assignment.py",
            "tests/checks/test_carton_numbers.py",
            "tests/closing/test_bay_sheet.py",
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
            "tests/web/test_signing_on.py",
            "receiving/store",
        ),
    ),
    "x12": Room(
        ("receiving/expected/x12.py", "receiving/expected/edi*.py", "receiving/expected/asn856*.py"),
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
            "receiving/reading/guided/partial.py",
        ),
        ("tests/reading/guided",),
    ),
    "closing": Room(
        ("receiving/closing/*.py",),
        (
            "tests/closing",
            "tests/checks/test_code128_examples.py",
            "tests/checks/test_symbols_of_another_encoder.py",
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
