"""Wording: facts and terms of the domain as messages, in one place for pages, commands and papers.

The rooms give facts: an enum and its parameters. Here each has its template, which is the key of the catalogues. No
room imports this one, and it imports no room but for the names of reasons. A test holds that every reason has words.
"""

from receiving.doors import hand_on

__getattr__ = hand_on(
    __name__,
    {
        "matching": ("finding_words", "whose_words", "words_of"),
        "terms": ("term",),
        "values": ("address_words", "cartons_words", "code_words", "codes_words"),
    },
)
