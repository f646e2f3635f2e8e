"""The bench: plates that follow a student's joints (n, 3), sliders in mm from the lesson's start, and words.

The bench itself is no widget, so that what a notebook stores of it is one fixed sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import ipywidgets as widgets

from rigkit import require
from rigkit.bench_face import CONTROLS, TAUGHT, Face
from rigkit.bench_hints import checked
from rigkit.bench_plates import VIEWS
from rigkit.bench_sheet import BENCH
from rigkit.bench_work import Workpiece
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.work import Store


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
        self.controls = tuple(require.choice(control, "a control", CONTROLS) for control in controls)
        self._another, self._limbs = another, 0
        self.panel = widgets.VBox()
        self.panel.add_class(BENCH)
        self._begin(exercise, layout, store)

    def _begin(self, exercise: Exercise, layout: Layout, store: Store | None) -> None:
        """Lay out the panel for a limb, with the work kept for it if there is some."""
        criteria = {"structure"}.union(*(TAUGHT.get(control, ()) for control in self.controls))
        self.work = Workpiece(exercise, layout, criteria, store, lambda: self.face.follow(), self.controls)
        if self.work.limb.folding is None:
            self.work.criteria.discard("bend")
        there = {"hint": exercise.helps["hints"], "helps": exercise.helps["snap"], "another": self._another is not None,
                 "mirror": exercise.mirror is not None, "attempts": store is not None}  # fmt: skip
        calls: dict[str, Callable[..., None]] = {
            "flex": self.flex, "aim": self.aim, "bend_target": self.bend_target, "check": self.check,
            "hint": self.hint, "help": self.help, "another": self.another, "mirror": self.mirror,
        }  # fmt: skip
        names = [name for name in self.controls if there.get(name, True)]
        other = f"{exercise.title}." if self._limbs else ""  # which of them it is stays in sight
        self.face = Face(self.work, self.panel, self.views, names, calls, other)
        self.panel.children = [self.face.box]
        self.face.follow()

    # What there is -----------------------------------------------------------------------------------

    @property
    def exercise(self) -> Exercise:
        """The exercise of the limb that is shown."""
        return self.work.exercise

    @property
    def limb(self):
        """The limb with the numbers of its joints."""
        return self.work.limb

    @property
    def criteria(self) -> set[str]:
        """The criteria of the marks that this bench teaches."""
        return self.work.criteria

    @property
    def teaches_bend(self) -> bool:
        """Whether the rest bend is shown and told."""
        return "bend" in self.work.criteria

    @property
    def skeleton(self) -> Skeleton:
        """The joints as they are now."""
        return self.work.skeleton

    @property
    def start(self) -> Skeleton:
        """The joints as the lesson put them."""
        return self.work.start

    @property
    def pulled(self) -> float:
        """How far the limb is pulled, 0 to 1."""
        return self.work.state.pull.amount

    @property
    def layout(self) -> Layout:
        """The joints as a layout that can be marked and handed in."""
        return self.work.layout

    @property
    def words(self) -> widgets.HTML:
        """What the bench says."""
        return self.face.words

    @property
    def plates(self):
        """The plates, see `bench_plates`."""
        return self.face.plates

    @property
    def parts(self) -> dict:
        """The groups of widgets by the control's name."""
        return self.face.parts

    def changed(self, roles: Iterable[str]) -> bool:
        """Whether a place or a name of these joints differs from the lesson's start, or the other side was made."""
        return self.work.changed(roles)

    def findings(self) -> list[Finding]:
        """What the marks find in the criteria that this bench teaches."""
        return self.work.findings()

    # What lessons call -------------------------------------------------------------------------------

    def move(
        self, role: str, out: float = 0, up: float = 0, forward: float = 0, *, down: float = 0, back: float = 0,
        below: bool = False,
    ) -> None:  # fmt: skip
        """Put a joint so many mm from where it lay at the lesson's start, alone or with all joints below as they lay
        then. The last line for a joint is what counts; running it again changes nothing."""
        given = {"out": out, "up": up, "forward": forward, "down": down, "back": back}
        out, up, forward, down, back = (require.number(mm, f"{role}, {way}", -1e5, 1e5) for way, mm in given.items())
        self.work.move(role, (out, up - down, forward - back), bool(below), written=True)

    def slide(self, role: str, by: float, *, below: bool = False) -> None:
        """Put a joint where it lies when it is slid so many mm along its bone from the lesson's start, towards the next
        joint where positive. The last line for a joint is what counts; running it again changes nothing."""
        self.work.slide(role, by, bool(below))

    def rename(self, role: str, name: str) -> None:
        """Give a joint a name."""
        self.work.rename(role, name)

    def flex(self, per_cent: float) -> None:
        """Pull the limb's end straight towards its root, 0 to 100 %."""
        self.work.pull(amount=require.number(per_cent, "how far to pull", 0, 100) / 100)

    def aim(self, out: float = 0, up: float = 0, forward: float = 0) -> None:
        """Put the goal of the limb's end so many mm beside the straight pull."""
        self.work.pull(aside=tuple(require.number(mm, "the goal", -1e4, 1e4) for mm in (out, up, forward)))

    def bend_target(self, degrees: float | None = 0.0) -> None:
        """Set a bend target ahead of the fold, turned so many degrees about the limb; None takes it away."""
        turned = None if degrees is None else require.number(degrees, "the bend target", -360, 360)
        self.work.pull(target=turned)

    def gauges(self, on: bool = True) -> None:
        """Show how far and which way a joint lies off, with bars; else only whether."""
        self.face.gauge(bool(on))

    def choose(self, role: str) -> None:
        """Choose the joint that sliders move and the slice goes through."""
        self.work.choose(role)

    def mirror(self) -> None:
        """Make the other side, where the exercise asks for both, and say which joints were left behind."""
        told = self.work.mirror()
        self.face.say((told,))

    def reset(self) -> None:
        """Put every joint and name back to the lesson's start."""
        self.work.reset()

    def check(self) -> None:
        """Mark the work and show what was found, in place of the live words."""
        self.face.show(checked(self.findings(), self.limb, self.skeleton, self.controls))

    def hint(self) -> None:
        """Show one more rung of the hints: a nudge, a direction, an amount, the place; it stays until followed."""
        told = self.work.hint()
        self.face.say(() if self.work.hinted else (told,))

    def help(self, way: str) -> None:
        """Put the chosen joint where lines of sight ("sight") or its slice ("slice") say, and tell what each got wrong;
        only after an own try."""
        told = self.work.help(require.choice(way, "a help", ("sight", "slice")))
        self.face.say((told,))

    def another(self) -> None:
        """Go on to the next limb of this kind; the work on this one stays kept."""
        if self._another is not None:
            self.work.left()
            self._limbs += 1
            self._begin(*self._another(self._limbs))

    def __repr__(self) -> str:
        return f"Bench: {self.exercise.title}. Run this cell (Shift+Enter) to open it."

    def _repr_mimebundle_(self, **_given) -> dict:
        return (self.panel._repr_mimebundle_() or {}) | {"text/plain": repr(self)}
