//! Who must act next, and which promise breaks first.

mod promise;
mod turn;

use domain::id::BranchId;
use domain::time::Timestamp;
use store::today::{self, Filter};

pub use promise::{Promise, Standing, promised_within};
pub use store::today::{LastQuote, OpenOrder, SHOWN, StoppedMachine, Wait};
pub use turn::{NextMove, Turn, turn_of};

use crate::{Application, Caller, Question, Refusal};

/// What is open now.
#[derive(Debug, Clone, Default)]
pub struct Today {
    pub branch: Option<BranchId>,
    pub words: Option<String>,
}

/// Everything that is open, ranked.
#[derive(Debug)]
pub struct TodayAnswer {
    pub now: Timestamp,
    /// Machines that may not be used, with the orders on them.
    pub stopped: Vec<(StoppedMachine, Vec<Line>)>,
    /// By who must act, and within by what is left of the promise.
    pub lines: Vec<Line>,
    /// How many orders are open as the filter wants them, shown or not.
    pub of_all: i64,
    pub branches: Vec<(BranchId, String)>,
}

/// An open order and what follows from it.
#[derive(Debug)]
pub struct Line {
    pub order: OpenOrder,
    pub turn: Turn,
    pub next: NextMove,
    pub promise: Promise,
}

impl Question for Today {
    const NAME: &'static str = "see_today";
    type Answer = TodayAnswer;

    async fn answer(self, application: &Application, _: &Caller) -> Result<TodayAnswer, Refusal> {
        let (database, now) = (application.database(), application.now());
        // No name has U+0000, and Postgres takes none.
        let words = self.words.map(|words| words.replace('\0', ""));
        let filter = Filter { branch: self.branch, words, ..Filter::default() };
        let (orders, of_all) = today::open_orders(database, &filter).await?;
        let machines = today::stopped_machines(database, self.branch).await?;
        let branches = today::branches(database).await?;
        let mut lines: Vec<Line> = orders.into_iter().map(|order| Line::of(order, now)).collect();
        lines.sort_by_key(|line| (line.turn, line.promise.rank(), line.order.number));
        let is_wanted = |machine: &StoppedMachine| {
            filter.words.is_none() || lines.iter().any(|line| line.order.appliance == Some(machine.appliance))
        };
        let machines: Vec<StoppedMachine> = machines.into_iter().filter(is_wanted).collect();
        let mut stopped: Vec<(StoppedMachine, Vec<Line>)> = Vec::new();
        for machine in machines {
            if stopped.iter().any(|(known, _)| known.appliance == machine.appliance) {
                continue;
            }
            let is_of = |line: &mut Line| line.order.appliance == Some(machine.appliance);
            let own = lines.extract_if(.., is_of).collect();
            stopped.push((machine, own));
        }
        Ok(TodayAnswer { now, stopped, lines, of_all, branches })
    }
}

/// The open orders at a kitchen or on a machine.
pub(crate) async fn open_lines(application: &Application, filter: &Filter) -> Result<Vec<Line>, Refusal> {
    let now = application.now();
    let (orders, _) = today::open_orders(application.database(), filter).await?;
    Ok(orders.into_iter().map(|order| Line::of(order, now)).collect())
}

impl Line {
    /// Whether its promise is past and nobody has come.
    pub fn is_over(&self) -> bool {
        self.promise.standing == Standing::Over
    }

    fn of(order: OpenOrder, now: Timestamp) -> Self {
        let (turn, next) = turn_of(&order, now);
        let promise = Promise::of(&order, now);
        Self { order, turn, next, promise }
    }
}
