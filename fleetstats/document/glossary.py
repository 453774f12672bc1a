"""Each statistic once, in plain words: for the margin where it first appears, and the glossary."""

from __future__ import annotations

from fleetstats.document.document import Explain

_TERMS = {
    "spell": (
        "Life (spell)",
        "One stretch of an engine's hours that was watched: from the hours at which we began to "
        "hear of it to the hours at which it failed, left, or was last seen running.",
    ),
    "at-risk": (
        "At risk",
        "Engines at risk at an age are those that were being watched when they passed it. Only "
        "they could have shown a failure there, so they are the evidence for that age.",
    ),
    "exposure": (
        "Exposure",
        "The engine hours that were watched, added up. Ten engines watched for 100 h each give "
        "1,000 h of exposure.",
    ),
    "delayed-entry": (
        "Delayed entry",
        "An engine that joins the records with hours on it tells nothing of the hours before: "
        "had it failed then, it would not have joined. Its early hours are not counted.",
    ),
    "censored": (
        "Censored",
        "An engine still running, sold or lost has not shown its failure age. We know only that "
        "it is greater than the hours seen. That is evidence too, and it is used.",
    ),
    "interval-known": (
        "Found at a check",
        "A fault found at a check began somewhere between the last clean check and this one. The "
        "method spreads it over that interval and does not pretend to know the hour.",
    ),
    "confidence": (
        "Confidence",
        "How often the method is right. A one-sided 95 % bound is made so that it holds in at "
        "least 95 of 100 studies like this one, if the stated assumptions are true.",
    ),
    "band": (
        "Band",
        "The range of values that the records do not rule out. A two-sided 90 % band has two "
        "edges; each alone is a one-sided 95 % bound.",
    ),
    "reliability": (
        "Reliability",
        "The share of engines that reach an age without the failure in question.",
    ),
    "b-life": (
        "B-life",
        "The age by which a stated share has failed. The B10 life is the age that one engine in "
        "ten does not reach without the failure in question.",
    ),
    "hazard": (
        "Hazard",
        "The failure rate of engines that have reached an age. It rises where engines wear out, "
        "stays level where hours do not matter, falls where early faults dominate.",
    ),
    "shape": (
        "Shape",
        "One number that says how the failure rate moves with hours: above 1 it rises (wear-out), "
        "1 means that hours do not matter, below 1 it falls.",
    ),
    "scale": (
        "Scale",
        "The hours by which 63.2 % have failed, whatever the shape.",
    ),
    "weibull": (
        "Weibull distribution",
        "A family of life curves with two numbers, shape and scale. It is the usual first choice "
        "for wear and is checked here against other families.",
    ),
    "likelihood": (
        "Likelihood",
        "How well a curve explains what was seen: failures where they happened, engines running "
        "where they ran. The best estimate is the curve with the greatest likelihood.",
    ),
    "profile": (
        "Profile likelihood",
        "A band from the likelihood itself: all values that explain the records nearly as well as "
        "the best one. It needs no symmetry and never leaves the possible range.",
    ),
    "shape-mixture": (
        "Mixture over shapes",
        "With few failures the records do not tell the shape. The bound is then averaged over the "
        "shapes that are plausible beforehand, each weighed by how well it fits what was seen.",
    ),
    "product-limit": (
        "Product-limit curve",
        "The share still going, counted step by step at each failure from the engines at risk. It "
        "assumes no curve, and ends where the engines do (Kaplan & Meier 1958).",
    ),
    "probability-plot": (
        "Probability plot",
        "A chart whose axes are stretched so that a Weibull is a straight line. Points that bend "
        "away from the line say that another curve, or a mixture, may be at work.",
    ),
    "aicc": (
        "AICc",
        "A score for comparing curves: the better the fit the lower, with a charge for each "
        "number that was fitted. Differences under 2 mean that the records cannot choose.",
    ),
    "horizon": (
        "Evidence horizon",
        "The age beyond which fewer engines than the study's minimum were at risk. Whatever is "
        "said beyond it is extrapolation: the curve speaks there, not the records.",
    ),
    "conditional": (
        "Chance before the next check",
        "Of engines that reach an age, the share that fails within the next check interval. It is "
        "what a check interval can be judged by.",
    ),
    "cost-optimum": (
        "Cheapest age",
        "Overhaul earlier and engines are overhauled that had hours left; later and more fail at "
        "greater cost. In between lies the age with the least cost per hour.",
    ),
    "outer-band": (
        "Outer band",
        "Engines removed because of a finding might have failed soon or run on. The outer band "
        "counts all of them as failures on one side and none on the other (Peterson 1976).",
    ),
    "competing": (
        "Failure from another cause",
        "An engine that fails from a cause not in question can no longer show the one in question. "
        "Its hours count up to then, and it is not counted as this failure.",
    ),
    "extrapolation": (
        "Extrapolation",
        "A figure for an age that too few engines have reached. It follows from the curve chosen, "
        "not from what was seen, and is drawn dashed or hatched.",
    ),
    "normal-approximation": (
        "Normal approximation",
        "A quick band from the curvature at the best estimate. With few failures its edges are "
        "off, most of all the one that matters for safety; it is shown for comparison only.",
    ),
    "p-value": (
        "p",
        "How often records as far from “no difference” as these would come up by chance if there "
        "were none. A small p speaks against chance; a large p shows nothing, least of all that "
        "two things are alike.",
    ),
    "rank-correlation": (
        "Rank correlation",
        "How far two things rise together in order: 1 always together, 0 not at all, −1 one up as "
        "the other goes down. Kendall's tau is one such figure.",
    ),
    "prior": (
        "Prior",
        "What is held likely before the records are looked at, stated with its source. With few "
        "failures it carries a part of the answer, and the report says so.",
    ),
    "second-opinion": (
        "Second opinion",
        "The same question put to independent software. Agreement shows that the arithmetic is "
        "right; it says nothing about the records.",
    ),
}

ALWAYS = ("confidence", "band", "at-risk", "exposure", "censored", "horizon", "extrapolation")
"""Terms that every report explains, whether or not a section does."""


def explain(key: str) -> Explain:
    """Return the explanation of a term; raises KeyError for one that is not in the table."""
    term, text = _TERMS[key]
    return Explain(term=term, text=text)


def glossary_terms() -> tuple[Explain, ...]:
    """Return the explanations that stand in every report's glossary."""
    return tuple(explain(k) for k in ALWAYS)
