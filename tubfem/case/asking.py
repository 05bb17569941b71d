"""What is asked of `schedule`: names that are not there, and what the command line asks in place of the case."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import TypeAdapter, ValidationError

from tubfem.case.changes import parse_change, tab_kind
from tubfem.case.faults import messages, nearest
from tubfem.case.lines import Path
from tubfem.case.loads import Torsion
from tubfem.case.planning import Schedule
from tubfem.case.regions import regions
from tubfem.case.schema import Case
from tubfem.case.stuff import StockText
from tubfem.errors import CaseError

FLAGS = {
    "stiffness": "--stiffness",
    "springs": "--springs",
    "least": "--least",
    "candidates": "--ply",
    "most": "--most",
    "fewer": "--fewer",
}  # keys of [schedule] that the command line asks, too


def schedule_faults(case: Case) -> Iterator[tuple[Path, str]]:
    """Path and words of every fault."""
    asked = case.schedule
    known = regions(case)
    for name, limits in asked.regions.items():
        family, colon, rest = name.partition(":")
        if colon and (limits.min or 0) < 0:
            yield (
                ("schedule", "regions", name),
                f"min = {limits.min}: plies are taken off regions alone; write 0 or more",
            )
        if colon and family == "joint":
            try:
                tab_kind(case, rest)
            except CaseError as error:
                yield ("schedule", "regions", name), error.messages[0]
        elif colon and family == "patch":
            patched = [*case.patches, *(mount for mount, own in case.mounts.items() if own.patch)]
            if rest not in patched:
                yield ("schedule", "regions", name), f'no patch "{rest}"{nearest(rest, patched)}'
        elif name not in known:
            yield ("schedule", "regions", name), f'no region "{name}"{nearest(name, known)}'
    for name in asked.covering:
        if name not in case.plies:
            yield ("schedule", "covering"), no_ply(case, name)
    for text in asked.candidates:
        try:
            change = parse_change(f"anywhere={text}")
        except CaseError:
            yield ("schedule", "candidates"), f'{text}: write PLY[@ANGLE][:FACE], for example "biax600:tool"'
            continue
        if change.ply not in case.plies:
            yield ("schedule", "candidates"), no_ply(case, change.ply)
        if change.count > 1:
            yield ("schedule", "candidates"), f"{text}: leave the count out; how many is what is searched for"


def refuse_without_twist(case: Case) -> None:
    """Raise a CaseError for a case without a torsion load case, which it needs where stiffness is asked for."""
    if not any(isinstance(each, Torsion) for each in case.load_cases.values()):
        wanted = 'torsion = { torque = "1000 N*m", front = "...", rear = "..." }'
        raise CaseError(case.message(("load_cases",), f"none of them is a torsion; write {wanted} beside them"))


def no_ply(case: Case, name: str) -> str:
    """Words for a name that is no ply of the case."""
    alone = re.split("[@*:]", name)[0].strip()
    if alone != name and alone in case.plies:
        return f"write the ply's name alone, {alone}; its usual angles are tried on both faces"
    if name in case.cores:
        return f"{name} is a core; only plies are laid more{nearest('', case.plies)}"
    return f"no ply {name}{nearest(name, case.plies)}"


def with_asked(case: Case, stock: Sequence[str], wanted: Mapping[str, Any]) -> Case:
    """The case with other stock, each "PLY=6 m", and other values under [schedule].

    Where plies are named by their stock alone, they are the candidates.

    Raises
    ------
    CaseError
        Everything that cannot be read, or is not there.
    """
    wanted, plies = dict(wanted), dict(case.plies)
    for text in stock:
        name, equals, amount = (part.strip() for part in text.partition("="))
        if not equals:
            raise CaseError(f"--with {text}: write 'PLY=6 m'")
        if name not in plies:
            raise CaseError(f"--with {text}: {no_ply(case, name)}")
        if amount.replace(".", "", 1).isdigit():
            raise CaseError(f"--with {text}: {amount} what? Write '{name}={amount} m' or '{name}={amount} m^2'")
        try:
            plies[name] = plies[name].model_copy(update={"on_hand": TypeAdapter(StockText).validate_python(amount)})
        except ValidationError as error:
            raise CaseError(f"--with {text}: {error.errors()[0]['msg']}") from None
    if stock and "candidates" not in wanted and not case.schedule.candidates:
        wanted["candidates"] = tuple(text.partition("=")[0].strip() for text in stock)
    try:
        read = Schedule.model_validate(wanted)
    except ValidationError as error:
        raise CaseError([f"{_flag(path)}: {words}" for path, words in messages(error, wanted)]) from None
    asked = case.schedule.model_copy(update={name: getattr(read, name) for name in wanted})
    changed = case.model_copy(update={"plies": plies, "schedule": asked})
    if found := [f"{_flag(path[1:])}: {words}" for path, words in schedule_faults(changed)]:
        raise CaseError(found)
    return changed


def _flag(path: Path) -> str:
    """What a key of [schedule] is called on the command line, and what is under it."""
    return " ".join([FLAGS.get(str(path[0]), f"schedule.{path[0]}"), *(str(part) for part in path[1:])])
