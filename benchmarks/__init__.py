"""Speed and accuracy on a published problem; run by `python -m benchmarks`. Never part of the tests."""
