//! From where a move is made: the office's page of an order, or the page of a visit on a phone. Both lead to the same moves.

use application::see_order::{KnownOrder, OrderOfNumber};
use application::see_visit::OrderOfVisit;
use application::{Caller, Refusal};
use axum::http::Uri;
use axum::response::Response;
use domain::id::VisitId;

use super::{number_in, refused, segment};
use crate::day;
use crate::page::PageFault;
use crate::parts::moves::Attempt;
use crate::state::ConsoleState;

#[derive(Debug, Clone, Copy)]
pub(crate) enum Door {
    Order(i64),
    Visit(VisitId),
}

impl Door {
    /// By the address: `/orders/430/…` or `/day/{visit}/…`.
    pub fn of(uri: &Uri) -> Result<Self, PageFault> {
        if segment(uri, 1) == "day" {
            day::visit_in(uri).map(Self::Visit)
        } else {
            number_in(uri).map(Self::Order)
        }
    }

    /// Which order is meant: a small question of its own, so that whoever may not see it learns nothing.
    pub async fn order(self, state: &ConsoleState, caller: &Caller) -> Result<KnownOrder, Refusal> {
        match self {
            Self::Order(number) => state.application.ask(caller, OrderOfNumber(number)).await,
            Self::Visit(visit) => state.application.ask(caller, OrderOfVisit(visit)).await,
        }
    }

    pub fn path(self) -> String {
        match self {
            Self::Order(number) => format!("/orders/{number}"),
            Self::Visit(visit) => format!("/day/{visit}"),
        }
    }

    /// The page after a move that was refused: what was typed stays.
    pub async fn refused(self, state: &ConsoleState, caller: &Caller, attempt: &Attempt) -> Response {
        match self {
            Self::Order(number) => refused(state, caller, number, attempt).await,
            Self::Visit(visit) => day::refused(state, caller, visit, attempt).await,
        }
    }
}
