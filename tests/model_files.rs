//! MPS and LP text of programs: as written by hand, and read back by a reader of this file.

mod lp;

use lp::{agreed, second_opinion};
use platewright::model::Class;
use platewright::model::linear::{Constraint, Linear, lp_text, mps};
use std::collections::{BTreeMap, HashSet};

/// Two foods: how many 100 g of rice and dal, and how many glasses of milk, whole, feed a day.
fn two_foods() -> Linear {
    let mut lp = Linear {
        title: "two foods and a glass".into(),
        ..Linear::default()
    };
    let rice = lp.variable("x_rice", 0.0, 8.0, 0.25, false);
    let dal = lp.variable("x_dal", 0.5, 4.0, 0.75, false);
    let milk = lp.variable("x_milk", 0.0, 3.0, 0.5, true);
    let mut named = |name: &str, unit: &str, terms: Vec<(usize, f64)>, lo, hi| {
        lp.rows.push(Constraint {
            name: name.into(),
            group: name.into(),
            note: format!("{unit}; example"),
            terms,
            lo,
            hi,
            class: Class::Must,
            row: None,
        });
    };
    named(
        "energy",
        "kcal",
        vec![(rice, 360.0), (dal, 350.0), (milk, 150.0)],
        Some(1900.0),
        Some(2100.0),
    );
    named(
        "protein",
        "g",
        vec![(rice, 7.0), (dal, 24.0), (milk, 8.0)],
        Some(70.0),
        None,
    );
    named(
        "sodium",
        "mg",
        vec![(rice, 5.0), (dal, 6.0), (milk, 100.0)],
        None,
        Some(250.0),
    );
    named(
        "calcium",
        "mg",
        vec![(rice, 10.0), (dal, 50.0), (milk, 300.0)],
        Some(500.0),
        None,
    );
    lp.row(
        "dal_with_rice",
        vec![(rice, 1.0), (dal, -2.0)],
        Some(0.0),
        Some(0.0),
    );
    lp
}

/// What a program may also hold: a row without bounds, one without terms, a reason on two lines.
fn odd() -> Linear {
    let mut lp = two_foods();
    lp.row("watched", vec![(0, 1.0), (2, -1.0)], None, None);
    lp.row("nothing", Vec::new(), None, Some(1.0));
    lp.rows[0].note = "kcal; two\nlines".into();
    lp.title = "two\r\nlines".into();
    lp
}

/// A program read back from free MPS: a reader of its own, after the published format.
fn read_mps(text: &str) -> Linear {
    let mut lp = Linear::default();
    let mut section = "";
    let mut kinds: Vec<char> = Vec::new();
    let mut row: BTreeMap<String, usize> = BTreeMap::new();
    let mut column: BTreeMap<String, usize> = BTreeMap::new();
    let (mut rhs, mut range) = (BTreeMap::new(), BTreeMap::new());
    let mut whole = false;
    for line in text
        .lines()
        .filter(|l| !l.starts_with('*') && !l.trim().is_empty())
    {
        let words: Vec<&str> = line.split_whitespace().collect();
        if !line.starts_with(' ') {
            section = words[0];
            continue;
        }
        let number = |w: &str| w.parse::<f64>().unwrap();
        match section {
            "ROWS" => {
                if words == ["N", "objective"] {
                    continue;
                }
                row.insert(words[1].into(), kinds.len());
                kinds.push(words[0].chars().next().unwrap());
                lp.row(words[1], Vec::new(), None, None);
            }
            "COLUMNS" if words[1] == "'MARKER'" => whole = words[2] == "'INTORG'",
            "COLUMNS" => {
                let v = *column
                    .entry(words[0].into())
                    .or_insert_with(|| lp.variable(words[0], 0.0, f64::INFINITY, 0.0, whole));
                if words[1] == "objective" {
                    lp.variables[v].cost = number(words[2])
                } else {
                    lp.rows[row[words[1]]].terms.push((v, number(words[2])))
                }
            }
            "RHS" => assert!(rhs.insert(row[words[1]], number(words[2])).is_none()),
            "RANGES" => assert!(range.insert(row[words[1]], number(words[2])).is_none()),
            "BOUNDS" => {
                let v = &mut lp.variables[column[words[2]]];
                match words[0] {
                    "LO" => v.lo = number(words[3]),
                    "UP" => v.hi = number(words[3]),
                    other => panic!("bound {other}"),
                }
            }
            other => panic!("section {other}"),
        }
    }
    for (n, kind) in kinds.iter().enumerate() {
        let b = rhs.get(&n).copied().unwrap_or(0.0);
        let r: Option<f64> = range.get(&n).copied();
        (lp.rows[n].lo, lp.rows[n].hi) = match kind {
            'E' => (Some(b), Some(b)),
            'G' => (Some(b), r.map(|r| b + r)),
            'L' => (r.map(|r| b - r), Some(b)),
            'N' => (None, None),
            other => panic!("row kind {other}"),
        };
    }
    lp
}

#[test]
fn mps_as_written() {
    insta::assert_snapshot!(mps(&two_foods()));
}

#[test]
fn lp_text_as_written() {
    insta::assert_snapshot!(lp_text(&two_foods()));
}

#[test]
fn every_kind_of_row_is_written() {
    let text = mps(&two_foods());
    for line in [
        " G energy",
        " rhs energy 1900",
        " rng energy 200",
        " G protein",
        " L sodium",
        " E dal_with_rice",
        " M2 'MARKER' 'INTORG'",
        " MEND 'MARKER' 'INTEND'",
        " LO bnd x_dal 0.5",
        " UP bnd x_dal 4",
    ] {
        assert!(text.lines().any(|l| l == line), "`{line}` in\n{text}");
    }
}

#[test]
fn mps_read_back_is_the_same_program() {
    for lp in [two_foods(), odd()] {
        same_when_read_back(&lp);
    }
}

fn same_when_read_back(lp: &Linear) {
    let back = read_mps(&mps(lp));
    assert_eq!(back.variables.len(), lp.variables.len());
    for (a, b) in lp.variables.iter().zip(&back.variables) {
        assert_eq!(
            (&a.name, a.lo, a.hi, a.cost, a.integer),
            (&b.name, b.lo, b.hi, b.cost, b.integer)
        );
    }
    assert_eq!(back.rows.len(), lp.rows.len());
    for (a, b) in lp.rows.iter().zip(&back.rows) {
        assert_eq!((&a.name, a.lo, a.hi, &a.terms), (&b.name, b.lo, b.hi, &b.terms));
    }
    assert!((agreed(lp) - second_opinion(&back).unwrap()).abs() < 1e-9);
}

#[test]
fn lp_text_has_no_empty_sum() {
    let mut lp = odd();
    lp.variables.iter_mut().for_each(|v| v.cost = 0.0);
    let text = lp_text(&lp);
    assert!(
        text.contains(" objective: 0 x_rice\n") && text.contains(" nothing: 0 x_rice <= 1\n"),
        "{text}"
    );
    assert!(
        text.starts_with("\\ two  lines\n") && text.contains("\n\\ energy; kcal; two lines\n"),
        "{text}"
    );
}

#[test]
fn names_are_single_words_and_differ() {
    let lp = two_foods();
    let mut seen = HashSet::new();
    for name in lp
        .variables
        .iter()
        .map(|v| &v.name)
        .chain(lp.rows.iter().map(|r| &r.name))
    {
        assert!(!name.is_empty() && !name.contains(char::is_whitespace), "{name}");
        assert!(seen.insert(name), "{name} stands twice");
    }
}
