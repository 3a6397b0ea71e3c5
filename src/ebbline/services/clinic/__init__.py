"""Use cases of the clinic over the record, from the referral to the signed report."""
