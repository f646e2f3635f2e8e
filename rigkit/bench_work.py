"""A piece of work at the bench, without widgets: a limb, its joints (n, 3) with their history, hints, where it is kept.

All that a student can do to the joints is a method here; `follow` is what happens after each change.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from pathlib import Path
from time import monotonic
from weakref import WeakSet

import numpy as np

from rigkit import bench_state, require
from rigkit.bench_folds import Pull
from rigkit.bench_helps import help_by
from rigkit.bench_hints import findings_in, first_to_mend, rungs
from rigkit.bench_parts import WAYS, Limb
from rigkit.bench_state import State
from rigkit.edits import History, slid
from rigkit.files.exercise import Exercise
from rigkit.files.layout import LONGEST_NAME, Axes, Layout
from rigkit.mirror import mirror_side, side_of
from rigkit.mirror_axes import CONVENTIONS, SAME_NUMBERS
from rigkit.require import RigError
from rigkit.rubric import Finding
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.work import Store

SAME = 1e-6  # mm: less is round-off
REACH = 120  # mm that a joint can be moved from where it lay at the lesson's start: a limb's width and some more
_OPEN: dict[Path, WeakSet[Workpiece]] = {}  # pieces that are one work: a change on one shows on all


class Workpiece:
    """The joints of one exercise as a student lays them.

    criteria: of the marks, those to look for findings in. follow: called after each change. tools: the controls.
    """

    def __init__(
        self, exercise: Exercise, layout: Layout, criteria: Collection[str], store: Store | None,
        follow: Callable[[], None], tools: Collection[str] = (),
    ):  # fmt: skip
        self.exercise, self.store, self.start, self.follow = exercise, store, layout.skeleton, follow
        self.limb, self.criteria, self.tools = Limb.of(exercise, layout.skeleton), set(criteria), frozenset(tools)
        self.state = State(History(layout.skeleton), self.limb.fold_role or next(iter(self.limb.roles)))
        self._focused: dict[str, Limb] = {}
        self._slid_from, self.slid_by = self.state, 0.0
        self._helped, self._rung, self.hinted = ("", ""), -1, ""
        self._used, self.note = [0] * 4, ""  # how often each rung of the hints was asked for
        self._peers: WeakSet[Workpiece] = WeakSet()
        if store is not None:
            kept, self.note = store.load(len(layout.skeleton))
            if kept is not None:
                self.state = replace(self.state, history=History(kept.skeleton))
                self._used = [*kept.hints, *self._used][:4]
            self._peers = _OPEN.setdefault(store.path.resolve(), self._peers)
            for other in list(self._peers)[:1]:
                self._used = other._used
                if kept is not None and _same(kept.skeleton, other.skeleton):  # its way back is this one's too
                    self.state = replace(self.state, history=other.state.history)
        self._peers.add(self)

    def left(self) -> None:
        """Nobody shows this any more."""
        self._peers.discard(self)

    # What there is -----------------------------------------------------------------------------------

    @property
    def skeleton(self) -> Skeleton:
        """The joints as they are now."""
        return self.state.skeleton

    @property
    def shown(self) -> Limb:
        """The limb with the chosen joint in focus."""
        return self._focused.setdefault(self.state.chosen, self.limb.focused(self.state.chosen))

    @property
    def layout(self) -> Layout:
        """The joints as a layout that can be marked and handed in."""
        name, said = self.exercise.id, Axes(said=("units", "up", "facing"))
        return Layout(name, name, 1, self.skeleton, axes=said, hints=tuple(self._used))

    def number(self, role: str) -> int:
        """A role's joint number. Raises RigError for a role that is not there."""
        return self.limb.roles[require.choice(role, "a joint", self.limb.roles)]

    def changed(self, roles: Iterable[str]) -> bool:
        """Whether a place or a name of these joints differs from the lesson's start, or the other side was made."""
        now, start, numbers = self.skeleton, self.start, list(map(self.number, roles))
        return len(now) != len(start) or any(
            now.names[i] != start.names[i] or np.any(now.positions[i] != start.positions[i]) for i in numbers
        )

    def findings(self) -> list[Finding]:
        """What the marks find in the criteria of this work."""
        return findings_in(self.layout, self.exercise, self.criteria)

    # What can be done --------------------------------------------------------------------------------

    def choose(self, role: str) -> None:
        """Choose a joint."""
        self.state = replace(self.state, chosen=require.choice(role, "a joint", self.limb.roles), last="")
        self._slid_from, self.slid_by = self.state, 0.0
        self.follow()

    def move(self, role: str, step: tuple[float, float, float], below: bool, written: bool = False) -> None:
        """Put a joint so many mm (out, up, forward) from where it lay at the start; written: see `State.written`."""
        number = self.number(role)
        x, y, z = (require.number(mm, f"{role}, {way}", -REACH, REACH) for way, mm in zip(WAYS, step, strict=True))
        state, here = replace(self.state, below=below), bench_state.steps_of(self.limb, self.state, self.start, role)
        ways = [way for way, to, at in zip(WAYS, (x, y, z), here, strict=True) if abs(to - at) > SAME]
        did = f"move {role} {' '.join(ways)}"  # another slider is another step back
        went = bench_state.moved(self.limb, state, self.start, role, (x, y, z))
        line = self.state.written(self.start, number, went, below)
        self._share(line if written else self.state.put(went, did, monotonic()))

    def slide(self, role: str, by: float, below: bool) -> None:
        """Put a joint by a written line where it would lie when slid so many mm along its bone from the start."""
        by, number = require.number(by, f"{role}, along its bone", -REACH, REACH), self.number(role)
        self._share(self.state.written(self.start, number, slid(self.start, number, by / MM).skeleton, below))

    def slide_chosen(self, by: float) -> None:
        """Slide the chosen joint so many mm along its bone from where it was when this began, its place at 0."""
        begun, role = self._slid_from, self.state.chosen
        went = bench_state.slid(self.limb, replace(begun, below=self.state.below), role, by)
        self.put(went.skeleton, f"slide {role}", (begun, went.went * MM))

    def rename(self, role: str, name: str) -> None:
        """Give a joint a name."""
        name = require.text(name, f"the {role}'s name", LONGEST_NAME)
        self.put(self.skeleton.renamed(self.number(role), name), f"name {role}")

    def pull(self, **how) -> None:
        """Pull the limb another way, see `Pull`; nothing of it is kept."""
        self.state = replace(self.state, pull=replace(self.state.pull, **how))
        self.follow()

    def set(self, **how) -> None:
        """Set what else a state holds: ghost, below, fine."""
        self.state = replace(self.state, **how)
        self.follow()

    def reset(self) -> None:
        """Put every joint and name back to the lesson's start; one step that can be taken back."""
        self.state = replace(self.state, pull=Pull(), ghost=None)
        self.put(self.start)

    def take_back(self) -> None:
        """Undo the last change."""
        self._share(self.state.take_back())

    def redo(self) -> None:
        """Do again what was taken back."""
        self._share(self.state.redo())

    def hint(self) -> str:
        """One more rung of the hints for what is to be mended first; the same one stays until it is followed."""
        found = self._to_mend() or first_to_mend(self.findings(), self.limb, self.state.chosen)
        ladder = rungs(found, self.limb, self.layout, self.start, self.criteria, self.tools)
        if found is None:
            return ladder[0]
        before, self._helped = self._helped, (found.joint, found.finding)  # another fault begins another ladder
        self._rung = min(self._rung + 1, len(ladder) - 1) if self._helped == before else 0
        self._used[self._rung] += 1
        self.hinted = f"Hint {self._rung + 1} of {len(ladder)}: {ladder[self._rung]}"
        self._keep()
        return self.hinted

    def _to_mend(self) -> Finding | None:
        """The finding that the shown hint is about, if it still stands."""
        return next((one for one in self.findings() if self.hinted and (one.joint, one.finding) == self._helped), None)

    def help(self, way: str) -> str:
        """Put the chosen joint where lines of sight ("sight") or its slice ("slice") say; those of before stay as a
        ghost. Returns what each got wrong; before an own try nothing moves."""
        role = self.state.chosen
        told = help_by(way, self.shown, self.skeleton, role, self.changed([role]))
        if told.place is not None:
            self.state = replace(self.state, ghost=self.skeleton, ghost_name="as you had it")
            self.put(self.skeleton.moved(self.number(role), told.place))
        return told.words

    def mirror(self) -> str:
        """Make the other side from this one: places reflected, names with their side swapped, frames as asked. What was
        made before goes, whatever its name. Returns which joints were left behind: their names do not say this side."""
        exercise = self.exercise
        if exercise.mirror is None:
            raise RigError("an exercise that asks for both sides", "one side alone", where=exercise.title)
        convention = exercise.frame_convention if exercise.frame_convention in CONVENTIONS else SAME_NUMBERS
        plane = Plane(*exercise.mirror)
        now, own = self.skeleton, len(self.start)
        laid = Skeleton(now.names[:own], now.parents[:own], now.positions[:own], now.rotations[:own])
        self.put(mirror_side(laid, plane, exercise.naming, exercise.side, convention))
        behind = [role for role, number in self.limb.roles.items()
                  if side_of(self.skeleton.names[number], exercise.naming) != exercise.side]  # fmt: skip
        if not behind:
            return "✓ mirrored: every joint has its partner."
        says = "says" if len(behind) == 1 else "say"
        return f"✗ left behind: the {' and the '.join(behind)}, whose name {says} no {exercise.side}."

    def keep_attempt(self) -> None:
        """Keep the joints as one more attempt."""
        if self.store is not None:
            self.note = f"Kept as attempt {self.store.keep(self.layout)}."
            self.follow()

    def compare(self, attempt: int) -> None:
        """Show a kept attempt beside the joints of now; 0 shows none."""
        kept = self.store.attempt(attempt) if self.store is not None and attempt else None
        self.set(ghost=kept.skeleton if kept else None, ghost_name=f"attempt {attempt}" if kept else "")

    def bring_back(self, attempt: int) -> None:
        """Put all joints as they were in a kept attempt; one step that can be taken back."""
        kept = self.store.attempt(attempt) if self.store is not None and attempt else None
        if kept is not None:
            self.put(kept.skeleton)

    # What happens on a change ------------------------------------------------------------------------

    def put(self, skeleton: Skeleton, did: str = "", slid_so: tuple[State, float] | None = None) -> None:
        """Take over new joints. did: what was done, see `State.put`. slid_so: of a slide, from where and how far."""
        self._share(self.state.put(skeleton, did, monotonic()), slid_so)

    def _share(self, state: State, slid_so: tuple[State, float] | None = None) -> None:
        """Take over the joints of a state, keep them, and let everything follow, wherever this work is shown."""
        for piece in list(self._peers):
            mine = piece is self
            piece.state, piece.note = state if mine else replace(piece.state, history=state.history, last=""), ""
            piece._slid_from, piece.slid_by = slid_so if slid_so is not None and mine else (piece.state, 0.0)
            if piece.hinted and piece._to_mend() is None:
                piece._rung, piece.hinted = -1, ""
        for piece in list(self._peers):
            piece.follow()
        self._keep()  # after the picture, which is waited for

    def _keep(self) -> None:
        if self.store is not None:
            self.store.save(self.layout)


def _same(one: Skeleton, other: Skeleton) -> bool:
    return one.names == other.names and np.array_equal(one.positions, other.positions)
