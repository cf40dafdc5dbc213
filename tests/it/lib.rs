//! Acceptance tests: the real binary, a database of its own, a real HTTP client. The tests are in `main.rs`.
