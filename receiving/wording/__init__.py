"""Wording: facts and terms of the domain as messages, in one place for pages, commands and papers.

The rooms give facts: an enum and its parameters. Here each has its template, which is the key of the catalogues. No
room imports this one, and it imports no room but for the names of reasons. A test holds that every reason has words.
"""

from receiving.model.measures import (
    both_lengths_words,
    both_sizes_words,
    both_weights_words,
    distance_words,
    sizes_words,
    weight_words,
)
from receiving.wording.changes import change_words
from receiving.wording.matching import finding_words, whose_words, words_of
from receiving.wording.stored_messages import from_stored, line_words, stored_words, to_stored, to_stored_text
from receiving.wording.terms import term
from receiving.wording.values import (
    address_words,
    aisle_words,
    asked_words,
    bay_wave_words,
    cartons_words,
    code_words,
    codes_words,
    item_words,
    part_words,
    stock_words,
    trip_wave_words,
)

__all__ = [
    "address_words",
    "aisle_words",
    "asked_words",
    "bay_wave_words",
    "both_lengths_words",
    "both_sizes_words",
    "both_weights_words",
    "cartons_words",
    "change_words",
    "code_words",
    "codes_words",
    "distance_words",
    "finding_words",
    "from_stored",
    "item_words",
    "line_words",
    "part_words",
    "sizes_words",
    "stock_words",
    "stored_words",
    "term",
    "to_stored",
    "to_stored_text",
    "trip_wave_words",
    "weight_words",
    "whose_words",
    "words_of",
]
