"""What may be claimed at given hours."""

from fleetstats.chapters.claim.brochure import Brochure, write_brochure
from fleetstats.chapters.claim.compute import Claim, advise_claim, qualify_claim

__all__ = ["Brochure", "Claim", "advise_claim", "qualify_claim", "write_brochure"]
