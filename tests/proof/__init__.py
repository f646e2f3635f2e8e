"""The proof of the marks: each part is examined limb by limb, as a test at a sample size and as a printed report."""
