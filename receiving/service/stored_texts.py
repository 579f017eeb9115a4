"""What may not stand in a text that is stored: characters that show nothing, or turn what stands around them."""

from collections.abc import Mapping

from receiving.errors import BadRequest, Fault, FileFaults
from receiving.messages import message
from receiving.model.hidden_characters import find_hidden_character, hidden_character_words


def refuse_hidden_characters(texts: Mapping[str, str], *, lines: bool = True) -> None:
    """Raise BadRequest for the first of these texts, by the names of their fields, that holds such a character."""
    for field, text in texts.items():
        if wrong := hidden_character_words(text, lines=lines):
            raise BadRequest(
                message("What was given as {field} cannot be kept: {fault}.", field=field, fault=wrong),
                next_step=message("Delete that character, or type the text again."),
                field=field,
            )


def refuse_hidden_in_file(name: str, text: str) -> None:
    """Raise FileFaults with the first line that holds such a character, in a comment of the file too."""
    at = find_hidden_character(text)
    if at is None:
        return
    before = text[:at]
    start = max(before.rfind("\n"), before.rfind("\r")) + 1
    line = before.replace("\r\n", "\n").replace("\r", "\n").count("\n") + 1
    raise FileFaults(name, (Fault(line, 0, hidden_character_words(text[start : at + 1])),))
