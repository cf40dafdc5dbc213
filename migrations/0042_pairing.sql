-- A secret that makes one phone a session and is then spent; by itself it lets nobody do anything.
ALTER TABLE token ADD COLUMN is_for_pairing boolean NOT NULL DEFAULT false;

SELECT keep_in_range();
