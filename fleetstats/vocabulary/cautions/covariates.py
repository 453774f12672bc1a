"""Cautions on effects of use, fuel and other words, and on what is said at chosen values."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import SECOND, Case, caution_entry

COVARIATES = (
    caution_entry(
        "levels-not-given",
        SECOND,
        "Many lives do not tell a value of a column of words.",
        cure="Ask those who sent the rows; those who do not say may differ from those who do.",
        cases=Case(
            "covariates",
            "Many lives do not tell {columns}. Where those who fail tell more, or less, often than "
            "others, the effects of the levels told are wrong.",
            ("MUCH_NOT_GIVEN",),
        ),
    ),
    caution_entry(
        "levels-not-separable",
        SECOND,
        "Two columns say the same of these lives.",
        cure="Look for engines that part the two, such as one build in two uses.",
        cases=Case(
            "covariates",
            "These lives cannot tell {what}: its effect may be the other's.",
        ),
    ),
    caution_entry(
        "values-not-seen",
        SECOND,
        "No life has all the values asked for together.",
        cure="Read it as what the effects would give if they multiplied, which nobody has seen.",
        cases={
            "": Case(
                "covariates",
                "No life in the records is {values}. What is said of it supposes that the effects "
                "multiply, and no engine has shown that.",
            ),
            "beyond": Case(
                "covariates",
                "Some figures at {values} lie beyond the {hours} that any such life reached, and "
                "rest on the form of the law alone.",
            ),
        },
    ),
)
