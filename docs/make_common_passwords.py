"""Write down the digests of the passwords that are tried first, from a published list ordered by how common they are.

    python docs/make_common_passwords.py 10-million-password-list-top-1000000.txt

The list is that of danielmiessler/SecLists, `Passwords/Common-Credentials` (MIT, its licence beside the result). What
is written down are digests and not the words: leaked passwords hold names and addresses of people.
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from receiving.service.signing_in import COMMON, LEAST_PASSWORD, common_digest, is_repeating  # noqa: E402

KEPT = 10_000
"""OWASP ASVS 5.0, V6.2.4 asks for 3,000 of those that are long enough."""


def digests(text: str) -> list[str]:
    """The digests of the commonest passwords that nothing else here refuses."""
    words = (word for word in text.splitlines() if len(word) >= LEAST_PASSWORD and not is_repeating(word))
    found = dict.fromkeys(map(common_digest, words))
    return sorted(list(found)[:KEPT])


if __name__ == "__main__":
    made = digests(Path(sys.argv[1]).read_text(encoding="utf-8", errors="replace"))
    COMMON.write_text("\n".join(made) + "\n")
    sys.stdout.write(f"{len(made)} digests in {COMMON}\n")
