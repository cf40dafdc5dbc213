-- What a new machine in this one's place would cost; nothing where nobody has said.
ALTER TABLE appliance
    ADD COLUMN replacement_price numeric(12,2) CHECK (replacement_price > 0),
    ADD COLUMN replacement_currency text CHECK (replacement_currency ~ '^[A-Z]{3}$'),
    ADD CONSTRAINT appliance_replacement_price_whole
        CHECK ((replacement_price IS NULL) = (replacement_currency IS NULL));

SELECT keep_in_range();
