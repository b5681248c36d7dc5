"""Stretches of a course where the road or its rules differ."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from racecalc.domain.course import Course
from racecalc.domain.surveying.reshaping import PIECE_FIELDS, cut_at, noted
from racecalc.errors import InputError


@dataclass(frozen=True)
class Section:
    """A stretch of the course where the road or its rules differ; None leaves a value as it is.

    Parameters
    ----------
    start, end : float
        Limits along the course [m].
    crr : float, optional
        Rolling-resistance coefficient.
    roughness : float, optional
        Factor of the surface on the bike's coefficient.
    shelter : float, optional
        Share of the open wind that the rider feels, 0 to 1.
    max_speed : float, optional
        Speed ceiling [m/s].

    Raises
    ------
    InputError
        If the limits are the wrong way round or a value is out of its range.
    """

    start: float
    end: float
    crr: float | None = None
    roughness: float | None = None
    shelter: float | None = None
    max_speed: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 <= self.start < self.end:
            raise InputError(
                self.place, "it does not end after it starts", "give its start, then its end"
            )
        for name, most in (("crr", 0.1), ("roughness", 100.0), ("max_speed", math.inf)):
            value = getattr(self, name)
            if value is not None and not 0.0 < value <= most:
                limit = f" and at most {most:g}" if most < math.inf else ""
                raise InputError(
                    f"{self.place}, {name}", f"{value:g} will not do", f"give it above 0{limit}"
                )
        if self.shelter is not None and not 0.0 <= self.shelter <= 1.0:
            raise InputError(
                f"{self.place}, shelter", f"{self.shelter:g} is not a share", "give 0 to 1"
            )

    @property
    def place(self) -> str:
        """Name of the section in messages."""
        return f"section from {self.start / 1000:g} to {self.end / 1000:g} km"

    @property
    def values(self) -> dict[str, float]:
        """The values that it sets, by field of `Course`."""
        named = ((name, getattr(self, name)) for name in PIECE_FIELDS if name != "bearing")
        return {name: value for name, value in named if value is not None}


def _set(course: Course, section: Section) -> Course:
    middle = (course.distance[:-1] + course.distance[1:]) / 2.0
    inside = (middle > section.start) & (middle < section.end)
    changed: dict[str, Any] = {
        name: np.where(inside, value, getattr(course, name))
        for name, value in section.values.items()
    }
    return replace(course, **changed)


def with_sections(course: Course, sections: Iterable[Section]) -> Course:
    """Set what the road is like on stretches of a course.

    Parameters
    ----------
    course : Course
        Before.
    sections : iterable of Section
        Where sections overlap, the later one holds.

    Returns
    -------
    Course
        Cut at the limits of the sections, with their values.

    Raises
    ------
    InputError
        If a section starts beyond the finish.
    """
    listed = tuple(sections)
    notes = []
    for section in listed:
        if section.start >= course.length:
            raise InputError(
                section.place,
                f"it starts beyond the finish at {course.length / 1000:.3f} km",
                "move it onto the course",
            )
        if section.end > course.length + 1.0:
            notes.append(
                f"The {section.place} was cut off at the finish, {course.length / 1000:.3f} km."
            )
    cut = cut_at(course, [limit for part in listed for limit in (part.start, part.end)])
    for section in listed:
        cut = _set(cut, section)
    return noted(cut, *notes)
