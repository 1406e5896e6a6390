"""Everyone who asks, and what each holds."""

from dataclasses import dataclass

from fleet.accounts.models import SHORE_ROLES, User
from tests.access.world import World

OURS_ASKS, OUTSIDE, NOT_SIGNED_IN = "ours", "outside", "not signed in"


@dataclass(frozen=True)
class Asker:
    """`roles` are those held today for our vessel, `anywhere` those held at all."""

    label: str
    user: User | None
    kind: str
    roles: frozenset[str] = frozenset()
    anywhere: frozenset[str] = frozenset()

    @property
    def sees_the_sister(self) -> bool:
        return self.kind == OURS_ASKS and bool(self.roles & SHORE_ROLES)


def askers(world: World) -> list[Asker]:
    cast = world.cast
    found = [_ours(role, user) for role, user in cast.people.items()]
    found.append(Asker("the sister's officer", cast.sister_officer, OUTSIDE, anywhere=frozenset({"officer"})))
    found += [
        Asker(f"the other company's {role}", user, OUTSIDE, anywhere=frozenset({role}))
        for role, user in cast.foreign.items()
    ]
    found.append(Asker("a person without any role", cast.nobody, OUTSIDE))
    for label, user in world.ended.items():
        kept = frozenset({label.split()[0]}) if "access" in label else frozenset()
        found.append(Asker(label, user, OUTSIDE, anywhere=kept))
    found.append(Asker("nobody signed in", None, NOT_SIGNED_IN))
    found.append(Asker("a person shut out since signing in", world.inactive, NOT_SIGNED_IN))
    return found


def _ours(role: str, user: User) -> Asker:
    return Asker(f"our {role}", user, OURS_ASKS, frozenset({role}), frozenset({role}))


# Those whose answers stand for the rest where the manner of asking is what is tried: with the role and without,
# of another company, and not signed in.
FEW = {"our officer", "our auditor", "the other company's superintendent", "nobody signed in"}
