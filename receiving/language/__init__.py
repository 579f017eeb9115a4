"""Languages: message catalogues, and what a language does to plurals, lists, numbers, dates and times.

The method is GNU gettext's: templates in English are the keys; a catalogue (`catalogues/CODE.po`) holds the others,
with the plural rule of its language. Lists, numbers and dates follow Unicode's locale data (CLDR) as Babel carries it.
Whoever shows a message chooses the language: a page by the person's choice or browser, a command by its environment, a
paper by the language in which it was shown.

Invariants: a message with no translation is said in English, never left out; a catalogue is whole, or a test fails.
"""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__, at_first_call=("speaking",))
