"""What may be claimed at given hours."""

from fleetstats.chapters.claim.compute import Claim, advise_claim, qualify_claim

__all__ = ["Claim", "advise_claim", "qualify_claim"]
