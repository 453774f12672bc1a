"""Cautions on how much was seen: failures, ages, entries, readings and the prior."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

EVIDENCE = (
    caution_entry(
        "zero-failures",
        FIRST,
        "No failure in the records can be counted.",
        cure="Ask for failures that went unreported; gather hours as the plan says.",
        cases={
            "": Case(
                "advice",
                "No failure was reported: the answer is a bound and no estimate. The plan and the "
                "count of unreported failures belong to it.",
            ),
            "left-out": Case(
                "advice",
                "{told}, and no other was reported: the answer is a bound and no estimate, and the "
                "bound that counts them belongs to it.",
            ),
        },
    ),
    caution_entry(
        "few-failures",
        SECOND,
        "Too few failures for what is said.",
        cure="Quote the bound and not the estimate; gather evidence as the plan says.",
        cases={
            "shape": Case(
                "advice",
                "The shape cannot be estimated from so few failures; a stated range of shapes is "
                "used instead.",
                ("FEW_FOR_SHAPE",),
            ),
            "two": Case(
                "advice",
                "With so few failures, statements that rest on both shape and scale are weak.",
                ("FEW_FOR_TWO",),
            ),
            "causes": Case(
                "causes",
                "For these causes the shape is not estimable; their bounds take the least "
                "favourable shape of the stated range, and bounds of causes must not be added up: "
                "the sum overstates the risk.",
                ("FEW_FOR_SHAPE",),
            ),
            "faults": Case(
                "check interval",
                "Too few faults failed before they were found: the warning time has a lower limit "
                "only, and the shares rest on that limit.",
                ("FEW_FAULTS",),
            ),
            "events": Case(
                "recurrent events",
                "Too few events for a statement on growth or trend.",
                ("FEWEST_EVENTS",),
            ),
            "effects": Case("covariates", "Too few failures for any statement on effects."),
        },
    ),
    caution_entry(
        "past-support",
        FIRST,
        "An answer lies beyond the hours at which enough engines were seen.",
        cure="Take no hours past the support for shown; follow engines to those hours first.",
        cases={
            "": Case(
                "advice",
                "{what} {lie} beyond the hours at which {enough} were at risk: extrapolation.",
                ("evidence.min_at_risk",),
            ),
            "forecast": Case(
                "forecast",
                "Much of the expected count comes of engines that are, or will be, older than the "
                "evidence reaches; what they do past it is extrapolation.",
                ("BEYOND_SHARE",),
            ),
            "outlook": Case(
                "outlook of each engine",
                "Engines older than the evidence reaches are set apart; chances shown for them "
                "are extrapolation.",
                ("evidence.min_at_risk",),
            ),
        },
    ),
    caution_entry(
        "late-entry",
        SECOND,
        "Engines were not followed from new.",
        cure="Ask for the early history of engines that joined late, and for those that never did.",
        cases={
            "": Case(
                "lives",
                "Much of the exposure comes from engines that were not followed from new. Early "
                "failures among engines that never joined are not in the records; the answers are "
                "conditional on engines reaching the age at which they are seen.",
                ("LATE_SHARE",),
            ),
            "related": Case(
                "entry check",
                "Entry age is related to life; conditioning on entry does not cure that.",
                ("RELATED_P",),
            ),
            "curve": Case(
                "product limit",
                "Too few lives were under observation before {start}; the curve tells the share "
                "that goes on among lives that reached that age.",
                ("LEAST_AT_RISK",),
            ),
        },
    ),
    caution_entry(
        "thin-start",
        SECOND,
        "Never were enough lives at risk at once.",
        cure="Read the steps of the curve as single engines.",
        cases=Case(
            "product limit",
            "Never were {least:g} lives at risk at once; the curve rests on very few and can drop "
            "to 0 by one failure.",
            ("LEAST_AT_RISK",),
        ),
    ),
    caution_entry(
        "interval-known",
        SECOND,
        "Failures are only known to lie between two checks.",
        cure="Use the estimate from intervals, which stands beside the curve.",
        cases=Case(
            "product limit",
            "{n:g} failures are only known to lie between two checks and are counted at the "
            "middle; the interval estimate needs no such choice.",
        ),
    ),
    caution_entry(
        "stale-hours",
        SECOND,
        "Running engines were not read for long.",
        cure="Ask for the hours today of the engines listed.",
        cases={
            "": Case(
                "records",
                "Many engines called running were not read for long; what happened since is not "
                "in the records, and their exposure ends at the last reading.",
                ("STALE_SHARE", "hours.stale_days"),
                "{share} of running engines were not read for over {days} days",
            ),
            "carried": Case(
                "records",
                "Hours since the last reading of running engines were assumed at each one's own "
                "rate of use, not seen; no failure in them could have been heard of.",
                proviso="{n} h of the exposure were assumed, not seen",
            ),
            "forecast": Case(
                "forecast",
                "Many running engines have old readings: they are older than counted here, and "
                "some may have failed since.",
                ("STALE_SHARE", "hours.stale_days"),
            ),
        },
    ),
    caution_entry(
        "prior-driven",
        SECOND,
        "The answer rests in part on a stated prior.",
        cure="State the source of the prior; see the answers under the rival priors.",
        cases={
            "": Case(
                "bands",
                "What is said of the shape rests on the stated prior and range, not on these "
                "engines ({source}).",
                ("PRIOR_LEFT",),
            ),
            "stated": Case(
                "bands",
                "The study states of the shape: {stated}. What that does to the bound stands "
                "beside.",
            ),
            "forecast": Case(
                "forecast",
                "The failures do not settle the shape: the forecast rests in part on its stated "
                "prior.",
                ("FEW_FOR_WEIGHTS",),
            ),
            "warning-time": Case(
                "check interval",
                "The warning time rests in part on a stated prior: median {median_h:g} h, log "
                "standard deviation {log_sd:g}; source: {source}.",
            ),
            "sources": Case(
                "sources",
                "Too few sources to learn how much sources differ; the band for a new source "
                "rests on the stated prior. See the answers under the rival priors.",
                ("FEW_SOURCES",),
            ),
            "effects": Case(
                "covariates",
                "Too few failures to fit the effects freely; a prior around no effect holds them "
                "back.",
                ("PLAIN_FROM",),
            ),
        },
    ),
    caution_entry(
        "plan-risk",
        SECOND,
        "Gathering evidence may upset the claim.",
        cure="Weigh the chance of a setback before the plan is begun.",
        cases=Case(
            "plan",
            "Gathering more evidence may itself upset the claim: the chance that the bound ends "
            "worse than today's stands beside the plan.",
            ("PLAN_RISK",),
        ),
    ),
    caution_entry(
        "base-rate-gap",
        FIRST,
        "Far fewer failures are reported than a public rate lets expect.",
        cure="Ask owners and shops for failures that nobody told; set what counts here beside what "
        "the public rate counts.",
        cases=Case(
            "base rate",
            "Far fewer failures are reported than a public rate would lead one to expect. Check "
            "the definition and the reporting before the result is used.",
            proviso="far fewer failures are reported than a public rate lets expect",
        ),
    ),
)
