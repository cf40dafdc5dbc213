-- The answers to requests that made a token were kept with the token's secret. They are forgotten; a request that is repeated
-- within its day makes another token, which is better than a secret that can be read.
DELETE FROM idempotency WHERE operation = 'create_token';

SELECT keep_in_range();
