"""The bench: plates that follow a student's joints (n, 3), sliders in mm from the lesson's start, and words.

The bench itself is no widget, so that what a notebook stores of it is one fixed sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from weakref import WeakSet

import ipywidgets as widgets
import numpy as np

from rigkit import bench_controls, require
from rigkit.bench_controls import REACH
from rigkit.bench_hints import findings_in, first_to_mend, rungs
from rigkit.bench_parts import WAYS, Limb
from rigkit.bench_plates import GAP, VIEWS, Plates
from rigkit.bench_words import bend_sentence, feedback, findings_lines, name_sentences, place_sentences
from rigkit.files.exercise import Exercise
from rigkit.files.layout import LONGEST_NAME, Axes, Layout
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.work import Store

_OPEN: dict[Path, WeakSet[Bench]] = {}  # benches that show one work: a change on one shows on all
TALL = 216  # px, of the words
TAUGHT = {"place": ("centring", "fold"), "names": ("names",)}  # criteria that a control teaches
PRESSED = ("check", "hint", "another")  # buttons, in one row


class Bench:
    """A panel for one exercise. `views` and `controls` name exactly what it shows.

    exercise: from `read_exercise`. layout: the lesson's start. store: where the work is kept, or None. another: makes
    limb number 1, 2 ... for the button of that name, see `openings`; or None.
    Raises RigError for unknown names. Shown as the last thing in a notebook cell.
    """

    def __init__(
        self,
        exercise: Exercise,
        layout: Layout,
        views: Sequence[str] = ("front", "side", "slice"),
        controls: Sequence[str] = ("place",),
        store: Store | None = None,
        another: Callable[[int], tuple[Exercise, Layout, Store]] | None = None,
    ):
        self.views = tuple(require.choice(view, "a view", VIEWS) for view in views)
        self.controls = tuple(require.choice(control, "a control", bench_controls.CONTROLS) for control in controls)
        self._another, self._limbs = another, 0
        self.panel = widgets.VBox(layout=widgets.Layout(grid_gap=f"{GAP}px"))
        self._begin(exercise, layout, store)

    def _begin(self, exercise: Exercise, layout: Layout, store: Store | None) -> None:
        """Lay out the panel for a limb, with the work kept for it if there is some."""
        self.exercise, self._store, self._start = exercise, store, layout.skeleton
        self.limb = Limb.of(exercise, layout.skeleton)
        self.teaches_bend = self.limb.folding is not None and "bend" in self.controls
        taught = {"bend"} if self.teaches_bend else set()
        self.criteria = taught.union(*(TAUGHT.get(control, ()) for control in self.controls), {"structure"})
        self._skeleton, self._amount, self._rung, self._note = layout.skeleton, 0.0, -1, ""
        self._helped, self._hinted, self._used = ("", ""), "", [0] * 4  # how often each rung of the hints was asked for
        self._chosen = self.limb.fold_role or next(iter(self.limb.roles))
        self._peers: WeakSet[Bench] = WeakSet()
        if store is not None:
            kept, self._note = store.load(len(layout.skeleton))
            if kept is not None:
                self._skeleton, self._used = kept.skeleton, [*kept.hints, *self._used][:4]
            self._peers = _OPEN.setdefault(store.path.resolve(), self._peers)
            self._used = next((bench._used for bench in self._peers), self._used)
        self._lay_out()
        self._follow()
        self._peers.add(self)

    # What lessons call -------------------------------------------------------------------------------

    @property
    def skeleton(self) -> Skeleton:
        """The joints as they are now."""
        return self._skeleton

    @property
    def start(self) -> Skeleton:
        """The joints as the lesson put them."""
        return self._start

    @property
    def pulled(self) -> float:
        """How far the limb is pulled, 0 to 1."""
        return self._amount

    def changed(self, roles: Iterable[str]) -> bool:
        """Whether a place or a name of these joints differs from the lesson's start."""
        now, start, numbers = self._skeleton, self._start, list(map(self._number, roles))
        return any(now.names[i] != start.names[i] or np.any(now.positions[i] != start.positions[i]) for i in numbers)

    @property
    def layout(self) -> Layout:
        """The joints as a layout that can be marked and handed in."""
        name, said = self.exercise.id, Axes(said=("units", "up", "facing"))
        return Layout(name, name, 1, self._skeleton, axes=said, hints=tuple(self._used))

    def move(
        self, role: str, out: float = 0, up: float = 0, forward: float = 0, *, down: float = 0, back: float = 0
    ) -> None:
        """Put a joint so many mm from where it lay at the lesson's start; running it again changes nothing."""
        number, given = self._number(role), {"out": out, "up": up, "forward": forward, "down": down, "back": back}
        out, up, forward, down, back = (require.number(mm, f"{role}, {way}", -1e5, 1e5) for way, mm in given.items())
        whole = zip(WAYS, (out, up - down, forward - back), strict=True)
        step = [require.number(mm, f"{role}, {way}", -REACH, REACH) for way, mm in whole]
        self._put(self._skeleton.moved(number, self._start.positions[number] + np.array(step) / MM @ self.limb.body))

    def rename(self, role: str, name: str) -> None:
        """Give a joint a name."""
        self._put(self._skeleton.renamed(self._number(role), require.text(name, f"the {role}'s name", LONGEST_NAME)))

    def flex(self, per_cent: float) -> None:
        """Pull the limb's end straight towards its root, 0 to 100 %."""
        self._amount = require.number(per_cent, "how far to pull", 0, 100) / 100
        self._follow()

    def choose(self, role: str) -> None:
        """Choose the joint that sliders move and the slice goes through."""
        self._chosen = require.choice(role, "a joint", self.limb.roles)
        self._follow()

    def reset(self) -> None:
        """Put every joint and name back to the lesson's start."""
        self._amount = 0.0
        self._put(self._start)

    def findings(self) -> list[Finding]:
        """What the marks find in the criteria that this bench teaches."""
        return findings_in(self.layout, self.exercise, self.criteria)

    def check(self) -> None:
        """Mark the work and show what was found, in place of the live words."""
        self._show(findings_lines(self.findings()))

    def hint(self) -> None:
        """Show one more rung of the hints: a nudge, a direction, an amount, the place; it stays until followed."""
        found = first_to_mend(self.findings(), self.limb)
        ladder = rungs(found, self.limb, self.layout, self._start, self.criteria)
        if found is not None:
            self._helped, self._rung = (found.joint, found.criterion), min(self._rung + 1, len(ladder) - 1)
            self._used[self._rung] += 1
            self._hinted = f"Hint {self._rung + 1} of {len(ladder)}: {ladder[self._rung]}"
            if self._store is not None:
                self._store.save(self.layout)
        self._say(ladder if found is None else ())

    def another(self) -> None:
        """Go on to the next limb of this kind; the work on this one stays kept."""
        if self._another is not None:
            self._peers.discard(self)  # the limb so far is no longer shown here
            self._limbs += 1
            self._begin(*self._another(self._limbs))

    # What happens on a change ------------------------------------------------------------------------

    def _number(self, role: str) -> int:
        return self.limb.roles[require.choice(role, "a joint", self.limb.roles)]

    def _put(self, skeleton: Skeleton) -> None:
        """Take over new joints, keep them, and let everything follow, on each bench that shows this work."""
        for bench in list(self._peers):
            bench._skeleton, bench._note = skeleton, ""
            if bench._hinted and bench._helped not in {(one.joint, one.criterion) for one in bench.findings()}:
                bench._rung, bench._hinted = -1, ""
        if self._store is not None:
            self._store.save(self.layout)
        for bench in list(self._peers):
            bench._follow()

    def _turned(self, degrees: int) -> None:
        self.plates.turn(degrees)
        self._follow()

    def _guard(self, inner: Callable[..., None]) -> Callable[..., None]:
        """A callback that shows its error in the panel; widgets would swallow it."""

        def guarded(*given) -> None:
            try:
                inner(*given)
            except require.RigError as error:
                self._show((f"! {error}",))
            except Exception as error:  # noqa: BLE001 - the last place where a person can be told
                told = f"! Something in the workbook broke ({type(error).__name__}: {error})."
                self._show((f"{told} Your work is kept; run this cell again.",))

        return guarded

    def _show(self, lines: Iterable[str]) -> None:
        limb = (f"{self.exercise.title}.",) if self._limbs else ()  # which of them it is stays in sight
        self.words.value = feedback((*limb, *lines), TALL)

    def _follow(self) -> None:
        """Make controls, plates and words agree with the joints."""
        if "place" in self.parts:
            number = self.limb.roles[self._chosen]
            steps = self.limb.body @ (self._skeleton.positions[number] - self._start.positions[number]) * MM
            self.parts["place"].show(self._chosen, dict(zip(WAYS, steps, strict=True)))
        if "flex" in self.parts and round(100 * self._amount) != self.parts["flex"].slider.value:
            self.parts["flex"].show(100 * self._amount)
        if "names" in self.parts:
            for role, box in self.parts["names"].boxes.items():
                box.value = self._skeleton.names[self.limb.roles[role]]
        self.plates.draw(self._skeleton, self._chosen, self._amount)
        self._say()

    def _say(self, first: tuple[str, ...] = ()) -> None:
        lines = [bend_sentence(self.limb, self._skeleton)] if self.teaches_bend else []
        if self.exercise.helps["gauges"] and "place" in self.controls:
            lines += place_sentences(self.limb, self._skeleton, self._chosen, after_bend=self.teaches_bend)
        if "names" in self.controls:
            lines += name_sentences(self.limb, self._skeleton)
        pulled = f"The limb is pulled by {round(100 * self._amount)} per cent."
        hint = (self._hinted,) if self._hinted and not first else ()  # stays in sight while it is followed
        self._show((*first, *hint, *(lines or [pulled] * ("flex" in self.controls)), self._note))

    # Widgets -----------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self.plates = Plates(self.limb, self._start, self.views, self.teaches_bend)
        self.parts = self._controls()
        self.words = widgets.HTML(layout=widgets.Layout(width="318px", height=f"{TALL}px", margin="0"))
        buttons = [self.parts[name].box for name in PRESSED if name in self.parts]
        rows = [part.box for name, part in self.parts.items() if name not in PRESSED]
        below = [widgets.VBox([*rows, bench_controls.row_of(buttons)])] if self.parts else []
        row = widgets.Layout(flex_flow="row wrap", grid_gap=f"{GAP}px", overflow="hidden")
        self.panel.children = [self.plates.box, widgets.HBox([*below, self.words], layout=row)]

    def _controls(self) -> dict:
        names = {role: self._skeleton.names[number] for role, number in self.limb.roles.items()}
        there = {"hint": self.exercise.helps["hints"], "another": self._another is not None}
        asked = [name for name in self.controls if there.get(name, True)]
        called: dict[str, Callable[..., None]] = {
            "choose": self.choose, "place": lambda step: self.move(self._chosen, **step), "flex": self.flex,
            "names": self.rename, "turn": self._turned, "check": self.check, "hint": self.hint, "another": self.another,
        }  # fmt: skip
        return bench_controls.made(asked, names, self._guard, called)

    def __repr__(self) -> str:
        return f"Bench: {self.exercise.title}. Run this cell (Shift+Enter) to open it."

    def _repr_mimebundle_(self, **_given) -> dict:
        return (self.panel._repr_mimebundle_() or {}) | {"text/plain": repr(self)}
