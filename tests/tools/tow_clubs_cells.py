# ruff: noqa: B018
# %% [markdown]
# # A fleet in fifteen cells
#
# Glider clubs fly an engine that towing wears hard. At which hours is overhaul advisable? The
# builder's ledger and two clubs' returns are in `datasets/tow-clubs`; the fleet is invented, and
# its records hold planted mistakes. Each cell shows what its last line is.
#
# ## The question
#
# A study file says what is asked: which causes count as the failure, what risk is accepted, what
# hours are claimed.

# %%
import numpy as np

import fleetstats as fs

study = fs.read_study("../../datasets/tow-clubs")
study.settings.question.name, study.settings.study.claimed_interval_h

# %% [markdown]
# ## The records
#
# Every row is read, and every row is accounted for: used, or set aside for a reason that can be
# mended.

# %%
records = fs.read_records(study)
audit = fs.audit_records(study, records)
print(audit.n_read, "rows =", audit.n_used, "used +", audit.n_set_aside, "set aside")
sorted({f.code for f in audit.findings if f.severity == "error"})

# %% [markdown]
# ## Lives
#
# A life is what was seen of an engine between joining and its end. Most engines still run: they
# count for every hour that they ran.

# %%
lives = fs.build_spells(study, records, audit).spells
lives

# %% [markdown]
# ## What was seen, by age
#
# Before any law is fitted: hours at risk and failures in bands of age, with exact limits of each
# rate.

# %%
ages = fs.estimate_exposure(lives, [0, 300, 600, 900, 1200, 1500, 2000])
told = ["low_h", "high_h", "n_failed", "exposure_h", "rate_low_per_h", "rate_high_per_h"]
ages.to_frame()[told]

# %% [markdown]
# The share that reaches each age without the failure, by counting alone.

# %%
fs.estimate_product_limit(lives, level=0.90)

# %% [markdown]
# ## A law of life
#
# A Weibull shape above 1 says that hours matter, so that an overhaul can help at all.

# %%
fit = fs.fit_weibull(lives)
print(fit)
fit.band(fs.Quantity.shape(), level=0.90)

# %% [markdown]
# Other families beside it: do they say anything else of the age that matters?

# %%
print(fs.fit_families(lives).sentence)

# %% [markdown]
# ## How sure
#
# The age by which one in ten has failed, and the chance of reaching the 1,200 h that the clubs
# claim. A band of 90 % means that each edge by itself is a bound of 95 %.

# %%
print(fit.band(fs.Quantity.life(0.10), level=0.90))
print(fit.band(fs.Quantity.reliability(1200.0), level=0.90))

# %% [markdown]
# The whole curve with its edges at each age, to where some ten engines are left.

# %%
fit.band_curve("reliability", np.linspace(0.0, 2100.0, 15), level=0.90)

# %% [markdown]
# ## Is it one fleet?
#
# Two build standards are in it, and three sources. Do the builds differ, and what may a club that
# has sent nothing yet expect?

# %%
fs.compare_groups(lives, "build")

# %%
fs.fit_between(lives, by="source", level=0.90)

# %% [markdown]
# ## Which causes
#
# Each cause by itself, most failures first; those that are not in question are fitted too.

# %%
for cause in fs.fit_causes(lives):
    law = f"shape {cause.fit.shape:.2f}" if cause.fit else cause.reason
    print(f"{cause.cause:<14}{cause.n_failed:3.0f} failed  {law}")

# %% [markdown]
# ## The advice
#
# Five answers, and the band that follows from the earliest of them.

# %%
advice = fs.advise_hours(lives, fit, study.settings)
print(advice)

# %% [markdown]
# ## The claim
#
# What the records support at 1,200 h, in words that may be printed, and what further running would
# show.

# %%
claim = fs.advise_claim(lives, study.settings, 1200.0, 0.90)
print(claim)

# %%
print(fs.plan_evidence(lives, study.settings, hours=1200.0).sentence)

# %% [markdown]
# That was a part of it. `fs.analyse(study)` runs every chapter for which the study has records,
# and `fs.write_report` makes the [report](../tow-clubs/report.html) of it; `fleetstats study` does
# both at a prompt.
