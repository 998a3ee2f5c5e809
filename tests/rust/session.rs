//! Runs driven from outside: budget, best plan, trace, check; and rows written for such drivers.

use std::sync::mpsc;

use proptest::prelude::*;
use sidon::check::check;
use sidon::error::Error;
use sidon::problem::{Domain, Problem};
use sidon::search::{
    Budget, Control, EventKind, Method, Objective, Options, Session, Status, StopReason, solve,
};
use sidon::table::{HARD, Table};

use crate::problems;

/// A hundred candidates for `links` links that are to stay clear of each other and of products.
fn crowd(links: usize) -> Problem {
    let mut problem = problems::problem(links, 2, &[("2A-B", 1), ("A+B-C", 1)]);
    problem.domains = vec![Domain::Raster { ranges_hz: vec![[0, 99]], step_hz: 1, origin_hz: 0 }];
    problem
}

fn options(objective: Objective, iterations: Option<u64>, seconds: Option<f64>) -> Options {
    Options { objective, budget: Budget { iterations, seconds }, ..Options::default() }
}

fn open(problem: &Problem, options: &Options) -> (Session, Table) {
    Session::open(problem, options, Control::default()).expect("a sound problem")
}

/// Every link in turn on its lowest clean candidate, if there is one.
fn first_fit(session: &mut Session, table: &mut Table, links: usize) {
    for link in 0..links {
        if !session.tick() {
            return;
        }
        if let Some(at) = table.row(link).iter().position(|&cost| cost < HARD) {
            table.place(link, at);
        }
    }
}

#[test]
fn a_method_from_outside_does_what_the_same_method_inside_does() {
    // The built-in first-fit is the reference.
    let problem = crowd(20);
    let inside = Options { method: Method::FirstFit, ..Options::default() };
    let reference = solve(&problem, &inside, &Control::default()).expect("a sound problem");
    let (mut session, mut table) = open(&problem, &options(Objective::MaxService, None, None));
    first_fit(&mut session, &mut table, 20);
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!(outcome.assignment, reference.assignment);
    assert!(outcome.refused > 0);
    assert_eq!((outcome.status, outcome.stop_reason), (Status::Feasible, StopReason::Finished));
    assert_eq!((outcome.iterations, outcome.restarts), (20, 1));
    assert_eq!(outcome.bound, reference.bound);
    let report = check(&problem, &outcome.assignment).expect("a sound problem");
    assert_eq!((report.hard, report.refused), (0, outcome.refused));
}

#[test]
fn the_budget_ends_the_run_for_good() {
    let (mut session, mut table) = open(&crowd(20), &options(Objective::MaxService, Some(5), None));
    first_fit(&mut session, &mut table, 20);
    assert!(!session.tick() && !session.tick());
    assert_eq!(session.iterations(), 5);
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!((outcome.iterations, outcome.stop_reason), (5, StopReason::IterationLimit));

    let (mut session, table) = open(&crowd(20), &options(Objective::MaxService, None, Some(0.0)));
    assert!(!session.tick());
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!((outcome.iterations, outcome.stop_reason), (0, StopReason::TimeLimit));
}

#[test]
fn a_stop_ends_the_run() {
    let (mut session, table) = open(&crowd(20), &options(Objective::MaxService, None, None));
    assert!(session.tick());
    session.stop();
    assert!(!session.tick());
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!(outcome.stop_reason, StopReason::Interrupted);
}

#[test]
fn only_the_better_plan_is_kept_and_told() {
    let (sender, events) = mpsc::channel();
    let problem = crowd(3);
    let options = options(Objective::MaxService, None, None);
    let (mut session, mut table) =
        Session::open(&problem, &options, Control::with_events(sender)).expect("a sound problem");
    table.place(0, 0);
    assert!(session.offer(&table).expect("its own table"));
    assert!(!session.offer(&table).expect("its own table"));
    table.place(1, 1); // closer than the separation
    assert!(!session.offer(&table).expect("its own table"));
    table.lift(1);
    table.place(1, 2);
    assert!(session.offer(&table).expect("its own table"));
    assert!(session.tick());
    table.place(2, 50);
    assert!(session.offer(&table).expect("its own table"));
    let (plan, event) = session.best().expect("three plans were offered");
    assert_eq!(plan, &[Some(0), Some(2), Some(50)]);
    assert_eq!((event.refused, event.iteration), (0, 1));
    // All are served: nothing better can be.
    assert!(!session.tick());
    table.lift(0);
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!((outcome.status, outcome.stop_reason), (Status::Optimal, StopReason::Proven));
    assert_eq!(outcome.assignment, [Some(0), Some(2), Some(50)]);
    let told: Vec<_> = events.try_iter().map(|event| (event.kind, event.refused)).collect();
    let improvement = EventKind::Improvement;
    let expected = [(improvement, 3), (improvement, 2), (improvement, 1), (improvement, 0)];
    assert_eq!(told[..4], expected);
    assert_eq!(told[4], (EventKind::Stop, 0));
    let kept: Vec<_> = outcome.trace.iter().map(|event| (event.kind, event.refused)).collect();
    assert_eq!(kept, told);
}

#[test]
fn with_every_link_to_be_served_a_plan_with_gaps_never_wins() {
    let problem = crowd(3);
    let (mut session, mut table) = open(&problem, &options(Objective::MinInterference, None, None));
    table.place(0, 0);
    table.place(1, 1);
    assert!(session.offer(&table).expect("its own table"));
    table.place(2, 1);
    assert!(table.total() >= 2 * HARD);
    assert!(session.offer(&table).expect("its own table"));
    table.lift(2);
    assert!(!session.offer(&table).expect("its own table"));
    let outcome = session.finish(&table).expect("a plan that can be checked");
    assert_eq!(outcome.assignment, [Some(0), Some(1), Some(1)]);
    assert_eq!((outcome.refused, outcome.status), (0, Status::Infeasible));
}

#[test]
fn locked_links_stand_where_they_must() {
    let mut problem = crowd(4);
    for (link, hz) in [(1, 40), (2, 43), (3, 46)] {
        problem.links[link].locked_hz = Some(hz);
    }
    // The third lock makes 2A-B products on two others: in max-service it is left off.
    let (_, table) = open(&problem, &options(Objective::MaxService, None, None));
    assert_eq!([1, 2, 3].map(|link| table.choice(link)), [Some(40), Some(43), None]);
    assert_eq!((table.choice(0), table.evaluations()), (None, 2));
    let (_, table) = open(&problem, &options(Objective::MinInterference, None, None));
    assert_eq!([1, 2, 3].map(|link| table.choice(link)), [Some(40), Some(43), Some(46)]);
}

#[test]
fn a_table_of_another_problem_is_refused() {
    let problem = crowd(3);
    let (mut session, table) = open(&problem, &options(Objective::MaxService, None, None));
    let mut twin = Table::new(&problem).expect("a sound problem");
    twin.place(0, 7);
    assert!(session.offer(&twin).expect("a table of the same problem"));
    let other = Table::new(&crowd(4)).expect("a sound problem");
    assert!(matches!(session.offer(&other), Err(Error::Invalid(_))));
    assert!(matches!(session.finish(&other), Err(Error::Invalid(_))));
    drop(table);
}

#[test]
fn a_bad_budget_is_refused() {
    let options = options(Objective::MaxService, None, Some(f64::NAN));
    assert!(matches!(
        Session::open(&crowd(3), &options, Control::default()),
        Err(Error::Invalid(_))
    ));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]
    #[test]
    fn a_row_written_outside_is_the_row_inside(
        places in proptest::collection::vec((0_usize..8, 0_usize..100), 1..20),
        soft in 1_u32..50,
    ) {
        let mut problem = crowd(8);
        problem.costs = vec![(0..100).map(|i| i * soft % 17).collect()];
        problem.links.iter_mut().skip(5).for_each(|link| link.costs = Some(0));
        let mut table = Table::new(&problem).expect("a sound problem");
        for (link, at) in places {
            table.lift(link);
            table.place(link, at);
            for other in [link, 0, 7] {
                let mut row = vec![i64::MIN; 100];
                table.write_row(other, &mut row);
                prop_assert_eq!(&row, table.row(other));
            }
        }
    }
}
