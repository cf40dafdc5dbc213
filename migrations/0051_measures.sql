-- Orders that were open in a period: those not closed, or closed since it began.
CREATE INDEX work_order_closed ON work_order (closed_at);
