"""Cautions on whom the records are about: endings, fates, clocks, builds and single engines."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

_TURNS = (
    "The conclusion turns when {what} {is_are} left out{each}, and moves more than the loss of as "
    "many engines explains."
)
_CARRIED = ("CARRIED_BY_CHANCE", "ONE_ENGINE_SHARE")

FLEET = (
    caution_entry(
        "informative-removal",
        SECOND,
        "Engines were removed because of a finding.",
        cure="Say of each such removal whether the finding was confirmed.",
        cases=Case(
            "endings",
            "Engines removed because of a finding are neither failures nor fair censorings; the "
            "outer band that counts all or none of them stands beside the answer.",
            ("FINDINGS_SHARE",),
        ),
    ),
    caution_entry(
        "fate-unknown",
        SECOND,
        "Engines built are in no record.",
        cure="Ask for the engines that are missing.",
        cases=Case(
            "population",
            "Some engines built are in no record. They are counted, not dropped; the bounds that "
            "suppose all or none of them failed stand under what is hidden.",
            proviso="{engines} built {are} in no record",
        ),
    ),
    caution_entry(
        "clock-mixed",
        SECOND,
        "Hours come from more than one kind of meter.",
        cure="Read both meters of some engines on one day; three pairs give a factor.",
        cases=Case(
            "records",
            "Hours come from {kinds} clocks and were turned into {standard} hours with stated "
            "factors; the answers at both ends of the factors' ranges belong to the result.",
        ),
    ),
    caution_entry(
        "one-unit",
        FIRST,
        "One engine, source or build carries the answer.",
        cure="Look at what is named by hand before the answer is used.",
        cases={
            "verdict": Case("verdict", _TURNS, _CARRIED),
            "influence": Case("influence", _TURNS, _CARRIED),
            "events": Case(
                "recurrent events",
                "One or two engines carry most of the events; look at them by name before reading "
                "the curve as the fleet's.",
                ("FEWEST_EVENTS", "LARGEST_SHARE"),
            ),
        },
    ),
    caution_entry(
        "mixed-builds",
        SECOND,
        "Unlike engines are taken together.",
        cure="See the comparison of groups; study the builds apart if they differ.",
        cases={
            "": Case(
                "lives",
                "Build standards are taken together; if they differ, the answer is true of none. "
                "See the comparison of groups.",
                ("SECOND_BUILD_SHARE",),
            ),
            "pooling": Case(
                "pooling",
                "Build standards are not shown to be alike; a pooled answer may be nobody's.",
            ),
            "shape": Case(
                "covariates",
                "The shape differs with these covariates, so one life factor does not hold at "
                "every age.",
                ("SHOWN_P",),
            ),
        },
    ),
    caution_entry(
        "hazards-not-proportional",
        SECOND,
        "A hazard ratio changes with age.",
        cure="Quote no single ratio; compare the groups at the ages that matter.",
        cases=Case(
            "covariates",
            "The hazard ratio of these covariates changes with age; one figure does not hold "
            "throughout.",
            ("SHOWN_P",),
        ),
    ),
    caution_entry(
        "calendar",
        SECOND,
        "Running engines are old in years or little used.",
        cure="Keep the calendar limits of the programme beside the hours.",
        cases=Case(
            "records",
            "Running engines are old in years or little used. Corrosion and hardened seals follow "
            "the calendar; for those, hours do not tell.",
            ("CALENDAR_YEARS", "IDLE_H_PER_YEAR", "LEAST_FOR_CALENDAR"),
        ),
    ),
    caution_entry(
        "commercial",
        SECOND,
        "Operation for hire or training is declared.",
        cure="Keep the limits that bind such operation.",
        cases=Case(
            "study",
            "Operation for hire or training is declared: relief that rests on private use does "
            "not apply.",
        ),
    ),
    caution_entry(
        "cause-unknown",
        SECOND,
        "Many failures have no known cause.",
        cure="Ask for the causes.",
        cases=Case(
            "causes",
            "Many failures have no known cause; advice aimed at one cause rests on what is "
            "assumed of them.",
            ("UNKNOWN_CAUSE_SHARE",),
        ),
    ),
    caution_entry(
        "independent-causes",
        SECOND,
        "A life without one cause is shown.",
        cure="Take it for a picture, not for a forecast.",
        cases=Case(
            "causes",
            "The life without a cause cannot be observed; it holds only if causes strike "
            "independently, which no record can test.",
        ),
    ),
    caution_entry(
        "not-renewed",
        SECOND,
        "Overhaul does not renew some causes in question.",
        cure="Mend those causes by other means than the overhaul.",
        cases={
            "": Case(
                "causes",
                "Overhaul does not renew {causes}: coming in earlier does not help there, so the "
                "overhaul band counts the other failures alone. The claim counts all, as they "
                "happen all the same; from all, the overhaul band would be {band}.",
            ),
            "no-band": Case(
                "causes",
                "Overhaul does not renew {causes}: coming in earlier does not help there, so the "
                "overhaul band counts the other failures alone. The claim counts all, as they "
                "happen all the same; from all, the overhaul band cannot be told.",
            ),
        },
    ),
    caution_entry(
        "records-rewritten",
        FIRST,
        "Later records take back what earlier ones held.",
        cure="Ask the reporter why.",
        cases=Case(
            "records",
            "The later records take back what the earlier ones held: hours that went back, or a "
            "failure that is gone. Ask why before the move of the advice is believed.",
        ),
    ),
    caution_entry(
        "definition-changed",
        FIRST,
        "Two studies compared do not count alike.",
        cure="Run both with one question and one clock.",
        cases=Case(
            "settings",
            "The two studies count failures or hours in different ways, so part of the move comes "
            "of the definition: the step of maps, rules and treatments. Where the earlier records "
            "cannot be read so, it is shared among the steps of the records.",
        ),
    ),
)
