"""Lesson 10's work: which convention a rig follows, and a pose carried over to the other arm; turns in degrees."""

from __future__ import annotations

from collections.abc import Mapping

from rigkit.lesson import safely
from rigkit.mirror_axes import NEITHER, SAME_DIRECTION
from rigkit.require import choice, number
from rigkit.stills import Picture
from rigkit.taught.mirror_frames import NEAR, RIGS, WORDS, Posed, apart_by_axis, both, plates_of, posed_arms
from rigkit.taught.own_axes import HINGE, LETTERS, lowered
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told


def check_rigs(which: Mapping[str, str]) -> Told:
    """Whether each rig's convention was recognised: "same numbers", "same direction" or "neither"; never raises."""

    def answer() -> Told:
        if left := [rig for rig in RIGS if not str(which.get(rig, "")).strip()]:
            return Told(NOT_YET, f"Nothing is written for rig {', '.join(left)}.", "Write in the cell above.")
        for rig, kept in RIGS.items():
            said = choice(lowered(which[rig]), f"rig {rig}", (*WORDS, NEITHER))
            if WORDS.get(said, NEITHER) == kept:
                continue
            found = apart_by_axis(kept, "elbow")
            if said == NEITHER:
                return Told(LOOK_AGAIN, f"Rig {rig} has for each axis a number, same or opposite, that makes mirror "
                            "images: 0 mm apart.", "So it follows one of the two. Which?")  # fmt: skip
            wanted = {letter: "same" if said == "same numbers" or letter == HINGE else "opposite" for letter in LETTERS}
            gaps = {one: found[one][wanted[one] == "opposite"] for one in LETTERS}
            letter, gap = next((one, gap) for one, gap in gaps.items() if gap >= NEAR)
            told = f"By {said} the {wanted[letter]} number about {letter} would make mirror images"
            return Told(LOOK_AGAIN, f"{told}; in rig {rig} the skin is {gap:.0f} mm apart then.",
                        "Read the rows of that rig again.")  # fmt: skip
        return Told(RIGHT, "One of each. B gave itself away about y and z: neither number makes 0 mm.", "Go on.")

    return safely(answer)


class Wave:
    """A pose of the left arm, and the right arm's numbers as a student writes them, for the same-direction house."""

    LEFT: Mapping[str, tuple[float, float, float]] = {"shoulder": (10.0, 30.0, 25.0), "elbow": (-35.0, 0.0, 70.0)}

    def __init__(self):
        self.said = dict[str, tuple[float, float, float]]()

    def right(self, joint: str, x: float, y: float, z: float) -> Told:
        """Turn a joint of the right arm by so many degrees about its own x, y and z; writing again replaces them.

        Raises RigError where there is no such joint or turn; then nothing is kept of that joint.
        """
        name = choice(lowered(joint), "a joint", tuple(self.LEFT))
        self.said.pop(name, None)
        a, b, c = (number(one, f"the right {name}'s turn", -180, 180) for one in (x, y, z))
        self.said[name] = (a, b, c)
        told = (f"{one}: x {a:g}, y {b:g}, z {c:g} degrees" for one, (a, b, c) in self.said.items())
        return Told("turned", f"Right {'; right '.join(told)}.")

    @property
    def arms(self) -> Posed:
        """Both arms in the pose."""
        turns = {f"left {joint}": angles for joint, angles in self.LEFT.items()}
        return posed_arms(both(SAME_DIRECTION), turns | {f"right {joint}": said for joint, said in self.said.items()})

    def picture(self) -> Picture:
        """Both arms from the front; dashed is the mirror image of the left one."""
        shown = {"same direction": (both(SAME_DIRECTION), self.arms)}
        return plates_of(shown, {"same direction": "the wave"})

    def check(self) -> Told:
        """Whether the right arm is the mirror image of the left, and if not, which number is wrong; never raises."""

        def answer() -> Told:
            if missing := [joint for joint in self.LEFT if joint not in self.said]:
                return Told(NOT_YET, f"Nothing is written for the right {' and '.join(missing)}.",
                            "Write in the cell above.")  # fmt: skip
            if self.arms.apart < NEAR:
                return Told(RIGHT, "The right arm is the mirror image of the left.", "Go on.")
            for joint, left in self.LEFT.items():
                for letter, here, there in zip(LETTERS, left, self.said[joint], strict=True):
                    if abs(abs(here) - abs(there)) > 0.5:
                        told = f"About {letter} the right {joint} turns by {abs(there):g} degrees, the left one by"
                        return Told(LOOK_AGAIN, f"{told} {abs(here):g}.",
                                    "How far stays the same; only signs change.")  # fmt: skip
                    if abs(there - (here if letter == HINGE else -here)) > 0.5:
                        how = (
                            "reversed, so its sign stays" if letter == HINGE else "only reflected, so its sign changes"
                        )
                        return Told(LOOK_AGAIN, f"About {letter} the right {joint} turns the wrong way round.",
                                    f"By same direction {letter} was {how}.")  # fmt: skip
            far = f"{self.arms.apart:.0f} mm"
            return Told(LOOK_AGAIN, f"The skin is {far} from a mirror image.", "Look at the picture.")

        return safely(answer)
