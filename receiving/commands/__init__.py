"""The commands: one module for those that belong together, imported when one of them runs, so that all start soon.

A command is a function ``run_`` and its name. It takes its options, calls a use case or a room, and prints: JSON in
English for programs, sentences in the language of the environment for people (`terminal`). A `ReceivingError` ends it
with status 1 and its next step; what is done with shorts or overs ends with status 3.
"""
