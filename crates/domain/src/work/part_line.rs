//! The way of a part into the machine, and who allowed it.

use super::{PartLineAction, PartLineState, Payer};
use crate::money::{Amount, InvalidAmount};

impl PartLineState {
    /// Whether it still has to come to an end.
    pub const fn is_open(self) -> bool {
        !matches!(self, Self::Fitted | Self::ReturnedUnused | Self::DefectiveReturned | Self::Withdrawn)
    }

    /// Whether somebody who pays has allowed it.
    pub const fn is_approved(self) -> bool {
        use PartLineState::{Approved, Fitted, Ordered, Promised, Received, SetAside};
        matches!(self, Approved | Ordered | Promised | Received | SetAside | Fitted)
    }
}

/// The state after a move, or none if the move is not possible from `state`.
///
/// A part of our own stock is set aside without being ordered; a promise may be given again when it
/// slips; a fitted part that turns out defective goes back.
pub const fn next(state: PartLineState, action: PartLineAction) -> Option<PartLineState> {
    use PartLineState as S;
    Some(match (state, action) {
        (S::Identified | S::Quoted, PartLineAction::Quote) => S::Quoted,
        (S::Identified | S::Quoted, PartLineAction::Approve) => S::Approved,
        (S::Approved, PartLineAction::Order) => S::Ordered,
        (S::Ordered | S::Promised, PartLineAction::Promise) => S::Promised,
        (S::Ordered | S::Promised, PartLineAction::Receive) => S::Received,
        (S::Approved | S::Received, PartLineAction::SetAside) => S::SetAside,
        (S::SetAside, PartLineAction::Fit) => S::Fitted,
        (S::Received | S::SetAside, PartLineAction::ReturnUnused) => S::ReturnedUnused,
        (S::Received | S::SetAside | S::Fitted, PartLineAction::ReturnDefective) => S::DefectiveReturned,
        (S::Identified | S::Quoted | S::Approved | S::Ordered | S::Promised, PartLineAction::Withdraw) => {
            S::Withdrawn
        }
        _ => return None,
    })
}

/// By what a line may be approved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ApprovalGround {
    /// Contract, warranty or our own company pays: nobody at the customer's is asked.
    OthersPay,
    /// The customer pays, and the sum lies within what he lets us spend without asking.
    WithinLimit,
}

/// What the customer lets us spend on an order without a quote, and what is spent of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spending {
    /// None: he is asked about everything. In the line's currency.
    pub limit: Option<Amount>,
    /// The customer's lines that are approved already, in the line's currency.
    pub spent: Amount,
}

/// Why a line cannot be approved without the customer's word.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unapproved {
    #[error("the customer's approval of a quote that lists this line: no spending limit is agreed")]
    NoLimit,
    #[error(
        "the customer's approval of a quote that lists this line: with it {total} would be spent, and the limit is {limit}"
    )]
    PastLimit { total: Amount, limit: Amount },
    #[error(transparent)]
    TooMuch(#[from] InvalidAmount),
}

/// Whether a line of this worth may be approved without a quote.
pub fn ground(payer: Payer, worth: Amount, spending: &Spending) -> Result<ApprovalGround, Unapproved> {
    if payer != Payer::Customer {
        return Ok(ApprovalGround::OthersPay);
    }
    let limit = spending.limit.ok_or(Unapproved::NoLimit)?;
    let total = spending.spent.plus(worth)?;
    if total <= limit { Ok(ApprovalGround::WithinLimit) } else { Err(Unapproved::PastLimit { total, limit }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_and_move() {
        use PartLineAction::{
            Approve, Fit, Order, Promise, Quote, Receive, ReturnDefective, ReturnUnused, SetAside, Withdraw,
        };
        use PartLineState as S;
        type Row = (PartLineState, &'static [(PartLineAction, PartLineState)]);
        let table: [Row; 11] = [
            (S::Identified, &[(Quote, S::Quoted), (Approve, S::Approved), (Withdraw, S::Withdrawn)]),
            (S::Quoted, &[(Quote, S::Quoted), (Approve, S::Approved), (Withdraw, S::Withdrawn)]),
            (S::Approved, &[(Order, S::Ordered), (SetAside, S::SetAside), (Withdraw, S::Withdrawn)]),
            (S::Ordered, &[(Promise, S::Promised), (Receive, S::Received), (Withdraw, S::Withdrawn)]),
            (S::Promised, &[(Promise, S::Promised), (Receive, S::Received), (Withdraw, S::Withdrawn)]),
            (
                S::Received,
                &[
                    (SetAside, S::SetAside),
                    (ReturnUnused, S::ReturnedUnused),
                    (ReturnDefective, S::DefectiveReturned),
                ],
            ),
            (
                S::SetAside,
                &[
                    (Fit, S::Fitted),
                    (ReturnUnused, S::ReturnedUnused),
                    (ReturnDefective, S::DefectiveReturned),
                ],
            ),
            (S::Fitted, &[(ReturnDefective, S::DefectiveReturned)]),
            (S::ReturnedUnused, &[]),
            (S::DefectiveReturned, &[]),
            (S::Withdrawn, &[]),
        ];
        assert_eq!(table.len(), PartLineState::ALL.len());
        for (state, moves) in table {
            for &action in PartLineAction::ALL {
                let expected = moves.iter().find(|(possible, _)| *possible == action).map(|(_, to)| *to);
                assert_eq!(next(state, action), expected, "{state} {action}");
            }
        }
    }

    #[test]
    fn the_customer_is_asked_past_his_limit_and_others_never() {
        let amount = |text: &str| text.parse::<Amount>().unwrap();
        let spending = Spending { limit: Some(amount("100")), spent: amount("60") };
        assert_eq!(ground(Payer::Customer, amount("40"), &spending), Ok(ApprovalGround::WithinLimit));
        let past = ground(Payer::Customer, amount("40.01"), &spending);
        assert_eq!(past, Err(Unapproved::PastLimit { total: amount("100.01"), limit: amount("100") }));
        let none = Spending { limit: None, spent: Amount::ZERO };
        assert_eq!(ground(Payer::Customer, amount("1"), &none), Err(Unapproved::NoLimit));
        for payer in [Payer::Contract, Payer::Warranty, Payer::OwnCompany] {
            assert_eq!(ground(payer, amount("5000"), &none), Ok(ApprovalGround::OthersPay));
        }
    }
}
