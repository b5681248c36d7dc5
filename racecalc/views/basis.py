"""What an answer rests on: the course file, the assumptions and the cautions."""

from racecalc.domain.course import CourseReport
from racecalc.domain.race import Race
from racecalc.quantities.showing import System, show
from racecalc.views.tables import bullets


def basis_text(race: Race, units: System) -> str:
    """What was done to the course file and what had to be assumed."""
    return bullets("Course", course_lines(race.course.report, units)) + bullets(
        "Assumed, because the race file does not say", assumption_lines(race)
    )


def assumption_lines(race: Race) -> list[str]:
    """The defaults in force, one line for each source."""
    sources = dict.fromkeys(assumption.source for assumption in race.assumptions)
    return [
        ", ".join(
            f"{assumption.key.partition('.')[2]} {assumption.value}"
            for assumption in race.assumptions
            if assumption.source == source
        )
        + f" ({source})"
        for source in sources
    ]


def course_lines(report: CourseReport, units: System) -> list[str]:
    """What was done to the points of the course file, a sentence each."""
    if report.points_read <= 2 and not report.notes:
        return []
    dropped = [f"{count} dropped ({reason})" for reason, count in report.dropped.items()]
    counts = [f"{report.points_read} points read, {report.points_kept} kept", *dropped]
    lines = [f"{report.source}: {', '.join(counts)}."]
    if report.pauses:
        lines.append(f"Pauses of {report.paused_time:.0f} s in all were taken out.")
    lines += [
        f"No points stand for {show(length, 'length', units, 0)} from"
        f" {show(start, 'course_distance', units)} on; a straight line is ridden there."
        for start, length in report.gaps
    ]
    if report.noise:
        origin = "as given" if report.noise_given else "estimated from the file"
        lines.append(
            f"Elevation noise of {show(report.noise, 'length', units, 2)} ({origin}) was smoothed"
            f" away: rise {show(report.ascent_before, 'elevation', units)} before,"
            f" {show(report.ascent_after, 'elevation', units)} after."
        )
    return [*lines, *report.notes]
