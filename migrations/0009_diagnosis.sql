-- Answers that nobody asked for in a while are thrown away.
CREATE INDEX diagnosis_cache_used ON diagnosis_cache (used_at);
