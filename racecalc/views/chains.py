"""The chain behind a number as text."""

from collections.abc import Sequence

from racecalc.decisions.explain import ExplainedStep
from racecalc.views.tables import paragraph


def chain_text(steps: Sequence[ExplainedStep], number: str) -> str:
    """Each step with its result, formula, inputs and source."""
    text = f"\nHow the numbers arise: {number}\n"
    for place, step in enumerate(steps, 1):
        text += paragraph(f"{place}. {step.what}: {step.result}", indent="   ")
        for name in ("formula", "inputs", "source"):
            if getattr(step, name):
                text += paragraph(f"   {name}: {getattr(step, name)}", indent="     ")
    return text
