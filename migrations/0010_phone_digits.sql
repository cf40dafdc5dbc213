-- A phone is looked for by its digits alone: taken out once when it is written, not at every search.
ALTER TABLE contact
    ADD COLUMN phone_digits text GENERATED ALWAYS AS (regexp_replace(phone, '[^0-9]', '', 'g')) STORED;
