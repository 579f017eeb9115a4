"""A store manager's PIN: it confirms a receipt on somebody else's phone, where a finger's signature would do too.

It is hashed like a password (argon2id) and slowed down like one, for one name at one address.
"""

import itertools

from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Access, Deed, Person, Role
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.service.passwords import hash_secret, is_secret
from receiving.service.self_service import check_fresh, own_person
from receiving.service.signing_in import check_slowly

LEAST_PIN, MOST_PIN = 6, 12


def set_own_pin(ctx: Context, access: Access, pin: str) -> None:
    """Set the PIN of the store manager who is signed in; an empty one takes it away. Raises BadRequest, NotFresh."""
    check_fresh(ctx, access)
    person = own_person(ctx, access)
    if person.role is not Role.STORE_MANAGER:
        raise BadRequest(
            message("Only a store manager has a PIN."), next_step=message("Sign in with a store manager's account.")
        )
    if pin:
        _check_pin(pin)
    hashed = hash_secret(pin) if pin else ""
    with ctx.transaction() as store:
        store.set_pin(person.person_id, hashed)
        record(ctx, store, Deed.PIN_CHANGED, about=person.name, detail="set" if pin else "removed")


def _check_pin(pin: str) -> None:
    digits = pin.isascii() and pin.isdigit() and LEAST_PIN <= len(pin) <= MOST_PIN
    steps = {(int(after) - int(before)) % 10 for before, after in itertools.pairwise(pin)} if digits else set()
    if not digits or (len(steps) == 1 and steps <= {0, 1, 9}):
        raise BadRequest(
            message("This PIN counts up or repeats one digit.") if digits else message("A PIN is made of digits."),
            next_step=message(
                "Choose {least_pin} to {most_pin} digits that nobody guesses.", least_pin=LEAST_PIN, most_pin=MOST_PIN
            ),
            field="pin",
        )


def find_manager_by_pin(ctx: Context, shipment: str, name: str, pin: str, *, address: str) -> Person:
    """The store manager of this name, who may confirm for this shipment and gave this PIN.

    Raises SignInRefused, TooManyTries.
    """
    return check_slowly(ctx, " ".join(name.split()), address, lambda: _manager(ctx, shipment, name, pin), "PIN ")


def _manager(ctx: Context, shipment: str, name: str, pin: str) -> Person | None:
    with ctx.store() as store:
        found, record = store.credentials(" ".join(name.split())), store.shipment(shipment)
        hashed = store.pin_hash(found[0].person_id) if found else ""
    if not is_secret(hashed, pin[:MOST_PIN]) or found is None:
        return None
    person = found[0]
    return person if person.role is Role.STORE_MANAGER and person.scope.sees(record.store, record.programme) else None
