"""The use cases: one function for each thing that a person does, and the only place where rooms meet the store.

Each begins with its `Context` (the data folder, the pools of workers, the clock) and names what it does: `get_`,
`list_` and `find_` read (`find_` may find nothing), `make_` makes a file or a paper, the others store. Whoever reads,
decides and writes does it inside ``ctx.transaction()``: one BEGIN IMMEDIATE around all three, so that two requests
issued at once cannot both act on the same state. A use case called inside another one joins its transaction.

What holds always: a use case stores all that one tap means or nothing; an action id that was answered is answered
again with the same words (`run_once`); lists are recomputed from manifest, reads and notes, and what is cached
(`list_pages`, `planning`) carries the version that it follows from.
The names are imported when they are first used; their types are in `__init__.pyi`.
"""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__, at_first_call=("passkey_sign_in",))
