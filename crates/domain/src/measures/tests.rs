mod exact;
mod period;
mod readings;
mod story;
