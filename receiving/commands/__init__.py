"""The commands: one module for each, imported only when its command runs, so that all start in a tenth of a second.

A command parses its options, calls a use case or a room, and prints: JSON in English for programs, sentences in the
language of the environment for people (`terminal`). A `ReceivingError` ends it with status 1 and its next step; what
is done with shorts or overs ends with status 3.
"""
