"""What can be wrong with one row of a table of lives."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import FAILURE_ASIDE, error, warning

ROWS = (
    error(
        "row-long",
        "A row has more cells than the header.",
        says="The row has {n_cells} cells, the header {n_header}.",
        cure="A mark too many, or a decimal comma without quotation marks; correct the row.",
    ),
    error(
        "engine-missing",
        "A row does not say which engine it is about.",
        says="The engine id is empty.",
        cure="Enter the serial.",
    ),
    error(
        "engine-unreadable",
        "An engine id that no register would hold.",
        says="The engine id '{shown}' has {n} characters or no letter or digit.",
        cure="Enter a serial of at most {most} characters.",
    ),
    error(
        "hours-missing",
        "The hours at exit are missing.",
        says={
            "": "The hours at exit are empty.",
            "failed": "The hours at exit are empty, and the row tells of a failure: '{ending}'.",
            "check": "There is no {what}.",
        },
        cure={
            "": "Enter the hours now or at the end; without them the life has no length.",
            "failed": (
                "Enter the hours of the failure, were they only known to lie between two readings. "
                + FAILURE_ASIDE
            ),
            "check": "Enter it.",
        },
    ),
    error(
        "hours-unreadable",
        "Hours that are not a number.",
        says="{trouble}",
        cure="{hint}",
    ),
    error(
        "hours-impossible",
        "Hours that no engine can have.",
        says={
            "overhaul": "The overhaul at {at:g} h lies outside the life, which ends at {end:g} h.",
            "cell": "{trouble}",
            "check": "{x:g} cannot be {what}.",
        },
        cure={
            "overhaul": (
                "Hours at overhaul count since new, as the exit hours then must; leave them "
                "empty where the exit hours count since the overhaul."
            ),
            "cell": "{hint}",
            "check": "It must be {least:,g}{most}.",
        },
    ),
    error(
        "exit-before-entry",
        "The hours at exit are fewer than at entry.",
        says="The life ends at {exit_h:g} h and begins at {entry_h:g} h.",
        cure="Are the two columns exchanged? Correct one of them.",
    ),
    error(
        "failure-without-exposure",
        "A failure with no hours under observation before it.",
        says="The engine failed at {exit_h:g} h, the hours at which its records begin.",
        cure=(
            "Enter the hours from which it was followed, or set the row aside: a failure told "
            "without the hours before it cannot enter a rate. " + FAILURE_ASIDE
        ),
    ),
    error(
        "hours-below-meter",
        "A life shorter than any meter shows.",
        says={
            "": "The life lasts {length:.2g} h; no meter shows so little.",
            "failed": "The engine failed after {length:.2g} h; no meter shows so little.",
        },
        cure={
            "": ("A formula may have left a remainder where 0 was meant: enter the hours as read."),
            "failed": (
                "A formula may have left a remainder where 0 was meant: enter the hours as read. "
                + FAILURE_ASIDE
            ),
        },
        limit="LEAST_READ_H",
    ),
    error(
        "last-good-after-exit",
        "The last hours known good lie after the end.",
        says="Known good at {good:g} h, but the life ends at {exit_h:g} h.",
        cure="Correct one of them.",
    ),
    error(
        "ending-unknown",
        "A word for the ending that is not known.",
        says="{trouble}",
        cure="{hint}",
    ),
    error(
        "meter-unknown",
        "A meter kind that is not known.",
        says="{trouble}",
        cure="{hint}",
    ),
    error(
        "count-unreadable",
        "A count of equal lives that is not a whole number above zero.",
        says="{trouble}",
        cure="{hint}",
    ),
    error(
        "clock-doubt-unreadable",
        "A doubt of a clock that is no share of its hours.",
        says="{trouble}",
        cure="{hint}",
    ),
    error(
        "row-short",
        "A row has fewer cells than the header.",
        says="The row has {n_cells} cells, the header {n_header}.",
        cure="A cell may be missing in its middle; add the missing marks.",
        may_accept=True,
    ),
    error(
        "merged-cell",
        "A merged cell leaves part of its area empty.",
        says="A merged cell covers part of this row, so cells under it are empty.",
        cure="Unmerge the cells and fill each one.",
        may_accept=True,
    ),
    error(
        "ending-missing",
        "The ending is missing; accepted rows count as running.",
        says="{trouble}",
        cure="{hint}",
        may_accept=True,
    ),
    error(
        "entry-missing",
        "No entry hours, though the dates show the engine was not followed from new.",
        says=(
            "The engine entered service on {new}, the records of it begin on {since}, and the "
            "entry hours are empty."
        ),
        cure="Enter its hours on {since}: engines that failed before then are not in the records.",
        may_accept=True,
    ),
    error(
        "overhaul-within-life",
        "A life since new runs on across an overhaul.",
        says="The life since new runs from {entry:g} h on across an overhaul at {at:g} h.",
        cure="Split it into two rows, or set hours.basis = 'since-overhaul'.",
        may_accept=True,
    ),
    warning(
        "no-exposure",
        "A life with no hours under observation; it says nothing.",
        says="The life begins and ends at {exit_h:g} h.",
        cure="Add a later reading when there is one.",
        usual="set-aside",
        may_accept=False,
    ),
    warning(
        "confirmed-unreadable",
        "A yes or no that cannot be read.",
        says="{trouble}",
        cure="{hint}",
    ),
    warning(
        "covariate-unreadable",
        "A covariate that is not a number.",
        says={
            "": "{x:g} is no usable covariate.",
            "cell": "{trouble}",
        },
        cure={
            "": "Correct it.",
            "cell": "{hint}",
        },
    ),
    warning(
        "date-ambiguous",
        "A date whose day and month cannot be told apart; left out.",
        says="{trouble} It is left out.",
        cure="{hint}",
    ),
    warning(
        "date-impossible",
        "A date that cannot be; left out.",
        says="{trouble} It is left out.",
        cure="{hint}",
    ),
    warning(
        "date-unreadable",
        "A date that cannot be read; left out.",
        says="{trouble} It is left out.",
        cure="{hint}",
    ),
    warning(
        "modification-unclear",
        "A modification that does not say to which build; not split.",
        says="Modified at {at:g} h, and nothing says to which build; the life is not split.",
        cure="Enter the build standard after the modification.",
    ),
    warning(
        "modification-outside",
        "A modification outside the life that it stands in.",
        says="Modified at {at:g} h, outside the life from {entry_h:g} to {exit_h:g} h.",
        cure=(
            "Correct the hours; one modified before the records begin has its new build from then."
        ),
    ),
    warning(
        "last-good-before-entry",
        "The last hours known good lie before entry; entry is used.",
        says="Known good at {good:g} h, before the records begin at {entry_h:g} h.",
        cure="The entry hours are used in its place.",
    ),
    warning(
        "last-good-missing",
        "A fault found at a check without the last hours known good.",
        says="A fault was found at a check, and the last hours known good are empty.",
        cure=(
            "Enter the hours of the last clean check; until then the fault may have arisen "
            "anywhere from {entry_h:g} to {exit_h:g} h."
        ),
    ),
    warning(
        "life-before-overhaul",
        "The hours before an overhaul are not in these rows as a life.",
        says="The hours from {entry:g} to the overhaul at {at:g} are not used.",
        cure=(
            "Give the life before the overhaul a row of its own: planned-overhaul, or how else "
            "it ended."
        ),
    ),
    warning(
        "running-ended",
        "A running engine with a date of end.",
        says="The engine is said to run and has a date of end.",
        cure="Correct the ending, or move the date to the last reading.",
    ),
    warning(
        "text-cut",
        "A text longer than the limit; cut.",
        says="The text has {n:,} characters; {most:,} are kept.",
        cure="Shorten it.",
    ),
    warning(
        "control-characters",
        "Characters that cannot be printed; removed.",
        says="The row holds characters that cannot be printed; they are removed.",
        cure="Delete them in the file.",
    ),
)
