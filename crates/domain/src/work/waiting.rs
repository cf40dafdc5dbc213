use super::WaitingReason;

/// Whether waiting for this may pause the response clock: only what the customer causes may; a part
/// or a second person is ours to bring (common practice, no source).
pub const fn may_pause_clock(reason: WaitingReason) -> bool {
    matches!(reason, WaitingReason::Access | WaitingReason::Approval | WaitingReason::CustomersWish)
}
