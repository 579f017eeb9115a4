"""The use cases: one function for each thing that a person does."""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__, at_first_call=("passkey_sign_in",))
