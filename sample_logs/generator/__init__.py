"""The generator of the invented scenario: a small physical model, seeded, with its truth written beside the logs.

Run ``python -m sample_logs.generator [OUT]`` from the repository's root. Everything in it is invented.
"""
