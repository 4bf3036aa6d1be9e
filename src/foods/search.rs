//! Finds foods by the words people use for them.
//!
//! Takes a table and words, gives the best foods first. No index is kept: all names are read anew,
//! which takes a few milliseconds.
//!
//! A query is split into words; each word, and each neighbouring pair run together ("chick pea"),
//! is looked up among the words of all names: as it is with plurals taken off, by the synonyms of
//! `foods/synonyms.csv`, as a beginning, and only when that finds nothing, with typing errors. A food
//! is a hit when it has every word; when no food has, those with the most words are. Among hits the
//! ones rank first that are named so from the start, that say little else, and that are plain:
//! raw, boiled or plain before prepared, generic before brands, shop foods before restaurants.

use std::collections::HashMap;

use super::packed::Label;
use super::table::Place;
use super::{FoodId, FoodTable};

/// A food found, best first.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// Its id.
    pub id: FoodId,
    /// Its name.
    pub name: String,
    /// Its group.
    pub group: String,
    /// How well it fits; only the order means anything.
    pub score: f64,
}

static SYNONYMS: &str = include_str!("../../foods/synonyms.csv");

/// Points by which hits are ranked. All are our choice, tuned on the queries of the tests below.
mod points {
    /// A query word is found as written (or in the plural).
    pub const EXACT: f64 = 10.0;
    /// It is found through a synonym.
    pub const SYNONYM: f64 = 9.0;
    /// It begins a word of the name.
    pub const BEGINNING: f64 = 6.0;
    /// It is close to a word of the name; times the similarity.
    pub const TYPO: f64 = 8.0;
    /// It is the first word of the name.
    pub const FIRST: f64 = 6.0;
    /// It stands in the first part of the name (before the first comma).
    pub const HEAD: f64 = 3.0;
    /// Taken off for each further comma before it.
    pub const LATER: f64 = 0.4;
    /// Taken off when it stands in brackets or among the common names only.
    pub const ASIDE: f64 = 1.5;
    /// Taken off for each word of the first part that was not asked for.
    pub const HEAD_EXTRA: f64 = 2.0;
    /// Taken off for each later word that was not asked for, up to `MOST_EXTRA` words.
    pub const EXTRA: f64 = 0.22;
    pub const MOST_EXTRA: usize = 12;
    /// It is plain: raw, boiled...
    pub const PLAIN: f64 = 1.0;
    /// For each word of a special form that was not asked for.
    pub const SPECIAL: f64 = -2.0;
    /// National surveys report the food often.
    pub const SURVEY: f64 = 0.8;
    /// A maker is named, or the name holds a word in capitals.
    pub const BRAND: f64 = -8.0;
    /// Groups that hold few plain foods.
    pub const ODD_GROUP: f64 = -6.0;
}

/// Words that mark the plain form of a food.
const PLAIN: &str = "raw plain boiled cooked fresh regular whole fluid table";

/// Words that mark a form one would ask for by name.
const SPECIAL: &str = "babyfood canned frozen dehydrated dried dry powder freeze-dried fortified imitation \
    substitute flavored flavor sweetened immature sprouted leaf juice chip candied pickled breaded fried microwaved \
    microwave fat-free reduced dessert snack mix soup sauce dressing by-product giblet salt infant sweetener greek \
    deli sliced prepackaged tender mashed hash toasted gluten-free calorie human buttermilk low-sodium sodium light \
    margarine home-prepared strawberry vanilla chocolate fruit solid concentrate condensed evaporated flour bran \
    grass-fed pita unenriched";

/// First parts of names that only say what kind of food follows: `Fish, salmon, raw`.
const KINDS: [&str; 21] = [
    "fish",
    "nut",
    "crustacean",
    "mollusk",
    "spice",
    "beverage",
    "alcoholic beverage",
    "cereal",
    "seed",
    "seaweed",
    "cheese",
    "bread",
    "bean",
    "candy",
    "squash",
    "mushroom",
    "game meat",
    "cookie",
    "tea",
    "roll",
    "leavening agent",
];

const ODD_GROUPS: [&str; 6] = [
    "Baby Foods",
    "Fast Foods",
    "Restaurant Foods",
    "American Indian/Alaska Native Foods",
    "Snacks",
    "Sausages and Luncheon Meats",
];

/// One word of a name.
struct Token {
    word: u32,
    part: u8,
    aside: bool,
    first: bool,
}

#[derive(Default)]
struct Vocabulary {
    ids: HashMap<String, u32>,
    words: Vec<String>,
}

impl Vocabulary {
    fn id(&mut self, word: &str) -> u32 {
        if let Some(&id) = self.ids.get(word) {
            return id;
        }
        let id = self.words.len() as u32;
        self.ids.insert(word.to_owned(), id);
        self.words.push(word.to_owned());
        id
    }
}

/// A word in lower case without its plural ending: `tomatoes`, `berries`, `peas`, `leaves`.
fn stem(word: &str) -> String {
    let mut w = word.to_lowercase();
    let long = |w: &str, n: usize| w.chars().count() > n;
    for (ending, least, instead) in [
        ("'s", 2, ""),
        ("ies", 4, "y"),
        ("oes", 4, "o"),
        ("ches", 4, "ch"),
        ("shes", 4, "sh"),
        ("sses", 4, "ss"),
    ] {
        if w.ends_with(ending) && long(&w, least) {
            w.truncate(w.len() - ending.len());
            w.push_str(instead);
            return w;
        }
    }
    if w == "leaves" {
        return "leaf".to_owned();
    }
    if w.ends_with('s') && !w.ends_with("ss") && !w.ends_with("us") && !w.ends_with("is") && long(&w, 3) {
        w.pop();
    }
    w
}

fn split(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !(c.is_alphanumeric() || matches!(c, '-' | '\'' | '%' | '.' | '/')))
        .map(|w| w.trim_matches(|c: char| !(c.is_alphanumeric() || c == '%')))
        .filter(|w| !w.is_empty())
}

/// The words of a query or synonym, stemmed, without filling words.
fn words_of(text: &str) -> Vec<String> {
    split(text)
        .flat_map(|w| w.split('/'))
        .filter(|w| !w.is_empty())
        .map(stem)
        .filter(|w| !matches!(w.as_str(), "of" | "and" | "or" | "the" | "a" | "an" | "in"))
        .collect()
}

fn tokens_of(label: &Label<'_>, vocabulary: &mut Vocabulary) -> Vec<Token> {
    let mut tokens = Vec::with_capacity(16);
    let mut depth = 0_i32;
    let mut part = 0_u8;
    let kind = label
        .name
        .split(',')
        .next()
        .map_or_else(String::new, |head| words_of(head).join(" "));
    let is_kind = KINDS.contains(&kind.as_str());
    let mut add = |text: &str, part: u8, aside: bool, tokens: &mut Vec<Token>| {
        for word in split(text) {
            let stemmed = stem(word);
            let first = match tokens.last() {
                None => true,
                // `Fish, salmon, raw` is as much a salmon as a fish.
                Some(last) => is_kind && last.part == 0 && part == 1,
            };
            tokens.push(Token {
                word: vocabulary.id(&stemmed),
                part,
                aside,
                first,
            });
            // `whole-wheat` is also found by `wheat`, `1/3` by nothing else.
            if stemmed.contains('-') && !stemmed.bytes().any(|b| b.is_ascii_digit()) {
                for piece in stemmed.split('-').filter(|p| p.len() > 1) {
                    tokens.push(Token {
                        word: vocabulary.id(&stem(piece)),
                        part,
                        aside: true,
                        first: false,
                    });
                }
                let joined: String = stemmed.split('-').collect();
                tokens.push(Token {
                    word: vocabulary.id(&joined),
                    part,
                    aside: true,
                    first,
                });
            }
        }
    };
    for piece in label.name.split_inclusive([',', '(', ')']) {
        add(piece, part, depth > 0, &mut tokens);
        match piece.as_bytes().last() {
            Some(b'(') => depth += 1,
            Some(b')') => depth -= 1,
            Some(b',') if depth == 0 => part = part.saturating_add(1),
            _ => {}
        }
    }
    add(label.common_names, part.saturating_add(1), true, &mut tokens);
    tokens
}

/// Whether a name holds a word in capitals, as brands are written in the USDA table.
fn has_brand(label: &Label<'_>) -> bool {
    const NOT_BRANDS: [&str; 8] = ["USDA", "DHA", "ARA", "NFS", "BBQ", "UHT", "EPA", "RTE"];
    !label.manufacturer.is_empty()
        || split(label.name).any(|w| {
            let letters = w.chars().filter(|c| c.is_alphabetic()).count();
            letters >= 3 && !w.chars().any(char::is_lowercase) && !NOT_BRANDS.contains(&w)
        })
}

/// One way to say what is wanted: words that must all be there, and the points of each.
struct Reading {
    words: Vec<Vec<(u32, f64)>>,
    /// How many words of the query it stands for.
    covers: usize,
}

/// Words of the vocabulary that a query word may mean, with points.
fn meanings(word: &str, top: f64, vocabulary: &Vocabulary, typos: bool) -> Vec<(u32, f64)> {
    let mut found: Vec<(u32, f64)> = Vec::new();
    if let Some(&id) = vocabulary.ids.get(word) {
        found.push((id, top));
    }
    let length = word.chars().count();
    if length >= 3 {
        for (id, other) in vocabulary.words.iter().enumerate() {
            if other.len() > word.len() && other.starts_with(word) {
                let share = word.len() as f64 / other.len() as f64;
                found.push((id as u32, points::BEGINNING * (0.5 + 0.5 * share)));
            }
        }
    }
    if found.is_empty() && typos && length >= 4 {
        let allowed = if length >= 7 { 2 } else { 1 };
        for (id, other) in vocabulary.words.iter().enumerate() {
            let other_length = other.chars().count();
            if other_length.abs_diff(length) > allowed || other_length < 3 {
                continue;
            }
            let distance = strsim::osa_distance(word, other);
            if distance <= allowed {
                let likeness = strsim::jaro_winkler(word, other);
                found.push((id as u32, points::TYPO * likeness / distance as f64));
            }
        }
    }
    found
}

/// Synonyms whose words are the query's words from a place on: how many words, and their meaning.
fn synonyms<'a>(
    list: &'a [(Vec<String>, Vec<String>)],
    query: &'a [String],
    at: usize,
) -> impl Iterator<Item = (usize, &'a Vec<String>)> {
    list.iter()
        .filter(move |(word, _)| query[at..].starts_with(word))
        .map(|(word, means)| (word.len(), means))
}

/// The foods that fit the words best, best first, at most `limit`.
///
/// Nothing is found for words of which no food has even one.
pub fn find(table: &FoodTable, words: &str, limit: usize) -> Vec<Hit> {
    let query = words_of(words);
    if query.is_empty() || limit == 0 {
        return Vec::new();
    }
    let mut vocabulary = Vocabulary::default();
    let foods: Vec<(Place, Label<'_>, Vec<Token>)> = table
        .places()
        .filter_map(|place| {
            let label = table.label_at(place)?;
            let tokens = tokens_of(&label, &mut vocabulary);
            Some((place, label, tokens))
        })
        .collect();
    let synonym_list: Vec<(Vec<String>, Vec<String>)> = SYNONYMS
        .lines()
        .skip(1)
        .filter_map(|line| line.split_once(','))
        .map(|(word, means)| (words_of(word), words_of(means)))
        .collect();

    // All readings that begin at each word of the query.
    let mut readings: Vec<Vec<Reading>> = Vec::new();
    for at in 0..query.len() {
        let mut here = Vec::new();
        for (covers, means) in synonyms(&synonym_list, &query, at) {
            let words: Vec<_> = means
                .iter()
                .map(|w| {
                    vocabulary
                        .ids
                        .get(w)
                        .map(|&id| (id, points::SYNONYM * covers as f64 / means.len() as f64))
                })
                .map(|found| found.into_iter().collect::<Vec<_>>())
                .collect();
            here.push(Reading { words, covers });
        }
        if let Some(next) = query.get(at + 1) {
            for joined in [format!("{}{next}", query[at]), format!("{}-{next}", query[at])] {
                if let Some(&id) = vocabulary.ids.get(&joined) {
                    here.push(Reading {
                        words: vec![vec![(id, 2.0 * points::EXACT)]],
                        covers: 2,
                    });
                }
            }
        }
        let typos = !here.iter().any(|r: &Reading| r.covers == 1);
        let alone = meanings(&query[at], points::EXACT, &vocabulary, typos);
        if alone.first().is_none_or(|(_, p)| *p < points::BEGINNING) && typos {
            // A typing error in a word that only synonyms know.
            let nearest = synonym_list
                .iter()
                .filter(|(word, _)| word.len() == 1 && query[at].chars().count() >= 4)
                .map(|(word, means)| (strsim::osa_distance(&word[0], &query[at]), means))
                .filter(|(distance, _)| *distance == 1)
                .min_by_key(|(distance, _)| *distance);
            if let Some((_, means)) = nearest {
                let per_word = points::TYPO / means.len() as f64;
                let word = |w| {
                    vocabulary
                        .ids
                        .get(w)
                        .map(|&id| (id, per_word))
                        .into_iter()
                        .collect()
                };
                here.push(Reading {
                    words: means.iter().map(word).collect(),
                    covers: 1,
                });
            }
        }
        here.push(Reading {
            words: vec![alone],
            covers: 1,
        });
        readings.push(here);
    }
    let listed = |words: &str| -> Vec<u32> {
        words
            .split_whitespace()
            .filter_map(|w| vocabulary.ids.get(w).copied())
            .collect()
    };
    let (plain, special) = (listed(PLAIN), listed(SPECIAL));
    let without = vocabulary.ids.get("without").copied();
    let mut asked = vec![false; vocabulary.words.len()];
    for (id, _) in readings.iter().flatten().flat_map(|r| r.words.iter().flatten()) {
        asked[*id as usize] = true;
    }

    let mut best_matched = 0;
    let mut hits: Vec<(usize, f64, usize)> = Vec::new();
    for (n, (_, label, tokens)) in foods.iter().enumerate() {
        let (matched, score) = fit(&readings, tokens);
        if matched == 0 || matched < best_matched {
            continue;
        }
        best_matched = matched;
        let mut score = score;
        let (mut extra, mut is_plain) = (0, false);
        let mut left_away = None;
        for token in tokens {
            if Some(token.word) == without {
                left_away = Some(token.part);
            }
            // What a food is without says nothing against it.
            if asked[token.word as usize] || left_away == Some(token.part) {
                continue;
            }
            if special.contains(&token.word) {
                score += points::SPECIAL;
            } else if plain.contains(&token.word) {
                is_plain = true;
            } else if token.part == 0 && !token.aside {
                score -= points::HEAD_EXTRA;
            } else if !token.aside {
                extra += 1;
            }
        }
        score += if is_plain { points::PLAIN } else { 0.0 };
        score -= points::EXTRA * extra.min(points::MOST_EXTRA) as f64;
        score += if label.in_survey { points::SURVEY } else { 0.0 };
        score += if has_brand(label) { points::BRAND } else { 0.0 };
        score += if ODD_GROUPS.contains(&label.group) {
            points::ODD_GROUP
        } else {
            0.0
        };
        hits.push((matched, score, n));
    }
    hits.retain(|(matched, ..)| *matched == best_matched);
    hits.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.2.cmp(&b.2)));
    hits.truncate(limit);
    hits.into_iter()
        .filter_map(|(_, score, n)| {
            let (place, label, _) = &foods[n];
            let (name, group) = (label.name.to_owned(), label.group.to_owned());
            Some(Hit {
                id: table.id_at(*place)?,
                name,
                group,
                score,
            })
        })
        .collect()
}

/// How many words of the query a food has, and the points for them, by the best way to read it.
fn fit(readings: &[Vec<Reading>], tokens: &[Token]) -> (usize, f64) {
    // Best (words, points) for the query from each word on.
    let mut best = vec![(0_usize, 0.0_f64); readings.len() + 1];
    for at in (0..readings.len()).rev() {
        best[at] = best[at + 1];
        for reading in &readings[at] {
            let mut sum = 0.0;
            let all = reading.words.iter().all(|meanings| {
                let found = tokens
                    .iter()
                    .filter_map(|t| Some((t, meanings.iter().find(|(id, _)| *id == t.word)?.1)))
                    .map(|(t, p)| p + position(t, (p / points::EXACT).min(1.0).powi(2)))
                    .fold(f64::NEG_INFINITY, f64::max);
                sum += found;
                found.is_finite()
            });
            let Some(rest) = best
                .get(at + reading.covers)
                .filter(|_| all && !reading.words.is_empty())
            else {
                continue;
            };
            let candidate = (reading.covers + rest.0, sum + rest.1);
            if candidate.0 > best[at].0 || (candidate.0 == best[at].0 && candidate.1 > best[at].1) {
                best[at] = candidate;
            }
        }
    }
    best[0]
}

/// Points for where a word of a name stands, less when it is not quite the word asked for.
fn position(token: &Token, likeness: f64) -> f64 {
    let mut sum = match token.part {
        0 => points::HEAD * likeness,
        _ if token.first => points::HEAD * likeness,
        part => -points::LATER * f64::from(part),
    };
    if token.first {
        sum += points::FIRST * likeness;
    }
    if token.aside {
        sum -= points::ASIDE;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(words: &str, limit: usize) -> Vec<String> {
        find(&FoodTable::bundled(), words, limit)
            .into_iter()
            .map(|h| h.id.to_string())
            .collect()
    }

    /// What a cook would expect to see first; the rows were looked up in FOOD_DES by hand.
    #[test]
    fn plain_foods_come_first() {
        for (words, first) in [
            ("chapati", "sr28:28306"),
            ("roti", "sr28:28306"),
            ("yogurt low fat", "sr28:01117"),
            ("low fat yogurt", "sr28:01117"),
            ("banana", "sr28:09040"),
            ("broccoli", "sr28:11090"),
            ("egg", "sr28:01123"),
            ("eggs boiled", "sr28:01129"),
            ("brown rice cooked", "sr28:20037"),
            ("salmon", "sr28:15083"),
            ("honey", "sr28:19296"),
            ("salt", "sr28:02047"),
            ("cheddar", "sr28:01009"),
            ("orange juice", "sr28:09206"),
        ] {
            assert_eq!(ids(words, 1), [first], "{words}");
        }
        assert!(ids("chicken breast", 5).contains(&"sr28:05064".to_owned()));
    }

    #[test]
    fn words_may_be_parted_and_mistyped() {
        for (words, first) in [
            ("chapatti", "sr28:28306"),
            ("chapatis", "sr28:28306"),
            ("brocoli", "sr28:11090"),
            ("banannas", "sr28:09040"),
            ("avacado", "sr28:09037"),
            ("tumeric", "sr28:02043"),
            ("Yoghurt", "sr28:01116"),
        ] {
            assert_eq!(ids(words, 1), [first], "{words}");
        }
        let found = ids("chick pea", 3);
        assert!(
            found.contains(&"sr28:16056".to_owned()) && found.contains(&"sr28:16057".to_owned()),
            "{found:?}"
        );
        assert_eq!(found, ids("chickpeas", 3));
    }

    #[test]
    fn other_names_are_known() {
        for (words, first) in [
            ("aubergine", "sr28:11209"),
            ("brinjal", "sr28:11209"),
            ("toor dal", "sr28:16101"),
            ("besan", "sr28:16157"),
            ("atta", "sr28:20080"),
            ("dahi", "sr28:01116"),
            ("prawns", "sr28:15149"),
        ] {
            assert_eq!(ids(words, 1), [first], "{words}");
        }
        assert!(ids("rajma", 2).contains(&"sr28:16033".to_owned()));
    }

    #[test]
    fn every_synonym_means_words_of_the_table() {
        let table = FoodTable::bundled();
        let mut vocabulary = Vocabulary::default();
        for place in table.places() {
            if let Some(label) = table.label_at(place) {
                tokens_of(&label, &mut vocabulary);
            }
        }
        for line in SYNONYMS.lines().skip(1) {
            let (word, means) = line.split_once(',').unwrap();
            for part in words_of(means) {
                assert!(
                    vocabulary.ids.contains_key(&part),
                    "{word}: `{part}` is in no name"
                );
            }
        }
    }

    #[test]
    fn nothing_is_found_for_nothing() {
        assert!(ids("", 5).is_empty());
        assert!(ids(" , ;", 5).is_empty());
        assert!(ids("qwxyz", 5).is_empty());
        assert!(ids("banana", 0).is_empty());
    }

    #[test]
    fn an_added_food_is_found_and_a_replaced_one_is_not() {
        let mut table = FoodTable::bundled();
        table.add([
            crate::foods::Food::new(FoodId::new("user:paneer"), "Paneer", "t"),
            crate::foods::Food::new(FoodId::new("sr28:09040"), "Plantain of mine", "t"),
        ]);
        assert_eq!(find(&table, "paneer", 1)[0].id.as_str(), "user:paneer");
        assert!(
            find(&table, "banana raw", 9)
                .iter()
                .all(|h| h.id.as_str() != "sr28:09040")
        );
    }
}
