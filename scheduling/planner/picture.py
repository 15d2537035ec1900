"""The plan as a picture: crews down, half-days across, cure waits and late jobs visible."""

from datetime import timedelta
from html import escape

from scheduling.planner.objective import job_ends
from scheduling.planner.problem import Booking, Crew, Plan, Problem, working_slots

SLOT_MM, ROW_MM, NAMES_MM, HEAD_MM = 6.0, 9.0, 32.0, 12.0
TEXT_MM = 2.6


def picture(problem: Problem, plan: Plan | None, *, first: int = 0, slots: int = 56) -> str:
    """An SVG of `slots` half-days from slot `first` on, sized in millimetres, for screen and paper.

    Below the crews stand the waits of mortar and grout, a row to a job, and the late jobs by name.
    Shapes and words carry all that colours say.
    """
    plan = plan or Plan(bookings=())
    last = min(problem.half_days, first + slots)
    waits = _waits(problem, plan, first, last)
    late = _late(problem, plan)
    rows = len(problem.crews) + len(waits)
    width = NAMES_MM + (last - first) * SLOT_MM
    height = HEAD_MM + rows * ROW_MM + ROW_MM * (1 + len(late))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}mm" height="{height:g}mm" font-family="sans-serif" '
        f'font-size="{TEXT_MM}" role="img"><title>{escape(_title(problem, plan, late))}</title>',
        '<defs><pattern id="wait" width="2" height="2" patternUnits="userSpaceOnUse">'
        '<path d="M0 2 L2 0" stroke="#555" stroke-width="0.3"/></pattern></defs>',
        *_days(problem, first, last, height),
    ]
    late_jobs = {job for job, _ in late}
    of = {task.id: task for task in problem.tasks}
    for row, crew in enumerate(problem.crews):
        y = HEAD_MM + row * ROW_MM
        parts.append(_text(0.5, y + 5.5, f"Crew {crew.id}"))
        parts += _off(problem, crew, first, last, y)
        for booking in plan.bookings:
            if booking.crew == crew.id and booking.end > first and booking.start < last:
                task = of[booking.task]
                parts.append(_bar(booking, y, first, last, late=task.job in late_jobs))
    for row, (job, spans) in enumerate(waits.items(), len(problem.crews)):
        y = HEAD_MM + row * ROW_MM
        parts.append(_text(0.5, y + 5.5, f"{job} hardens"))
        parts += [
            _rect(*_x(start, end, first, last), y + 2, ROW_MM - 4, "url(#wait)")
            for start, end in spans
        ]
    y = HEAD_MM + rows * ROW_MM + 5.5
    parts.append(_text(0.5, y, "Late:" if late else "No job is late."))
    parts += [
        _text(4, y + ROW_MM * (1 + row), f"{job}, by {slots} half-days")
        for row, (job, slots) in enumerate(late)
    ]
    return "".join([*parts, "</svg>"])


def _title(problem: Problem, plan: Plan, late: list[tuple[str, int]]) -> str:
    return (
        f"Crew plan from {problem.start}: {len(problem.crews)} crews, "
        f"{len(plan.bookings)} tasks booked, {len(plan.unplanned)} unplanned, {len(late)} jobs late"
    )


def _late(problem: Problem, plan: Plan) -> list[tuple[str, int]]:
    ends = job_ends(problem, plan)
    by = [(job.id, ends[job.id] - job.due_slot) for job in problem.jobs]
    return sorted((pair for pair in by if pair[1] > 0), key=lambda pair: -pair[1])


def _waits(problem: Problem, plan: Plan, first: int, last: int) -> dict[str, list[tuple[int, int]]]:
    """By job: the spans in which something hardens, as far as they are in the picture."""
    booked = plan.by_task()
    job = {task.id: task.job for task in problem.tasks}
    spans: dict[str, list[tuple[int, int]]] = {}
    for link in problem.links:
        before = booked.get(link.before)
        if before and link.lag_slots:
            end = before.end + link.lag_slots
            if end > first and before.end < last:
                spans.setdefault(job[link.before], []).append((before.end, end))
    return spans


def _days(problem: Problem, first: int, last: int, height: float) -> list[str]:
    parts = []
    for slot in range(first + first % 2, last, 2):
        x = NAMES_MM + (slot - first) * SLOT_MM
        day = problem.start + timedelta(days=slot // 2)
        parts.append(
            f'<path d="M{x:g} 0 V{height:g}" stroke="#bbb" stroke-width="0.2" fill="none"/>'
        )
        parts.append(_text(x + 0.5, 4, f"{day:%a}"))
        parts.append(_text(x + 0.5, 8, f"{day.day} {day:%b}"))
    return parts


def _off(problem: Problem, crew: Crew, first: int, last: int, y: float) -> list[str]:
    """Where the crew does not work."""
    works = set(working_slots(problem, crew))
    return [
        _rect(*_x(slot, slot + 1, first, last), y, ROW_MM, "#e4e4e4")
        for slot in range(first, last)
        if slot not in works
    ]


def _bar(booking: Booking, y: float, first: int, last: int, *, late: bool) -> str:
    x, width = _x(booking.start, max(booking.end, booking.start + 1), first, last)
    edge = 'stroke="#000" stroke-width="0.8"' if late else 'stroke="#333" stroke-width="0.2"'
    says = escape(booking.task + (" (late job)" if late else ""))
    return (
        f'<g><title>{says}</title><rect x="{x:g}" y="{y + 1:g}" width="{width:g}" '
        f'height="{ROW_MM - 2:g}" rx="0.8" fill="#fff" {edge}/>'
        f'<svg x="{x:g}" y="{y:g}" width="{width:g}" height="{ROW_MM:g}">'
        f"{_text(0.6, 5.5, booking.task)}</svg></g>"
    )


def _x(start: int, end: int, first: int, last: int) -> tuple[float, float]:
    start, end = max(start, first), min(end, last)
    return NAMES_MM + (start - first) * SLOT_MM, (end - start) * SLOT_MM


def _rect(x: float, width: float, y: float, height: float, fill: str) -> str:
    return f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{fill}"/>'


def _text(x: float, y: float, words: str) -> str:
    return f'<text x="{x:g}" y="{y:g}">{escape(words)}</text>'
