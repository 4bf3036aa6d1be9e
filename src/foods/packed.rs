//! The compact form in which the bundled table is embedded: packing, and decoding food by food.
//!
//! Takes foods, gives bytes; takes bytes, gives one food at a time. Nothing is decompressed.
//!
//! Layout, all numbers little-endian, `v` a LEB128 number of up to 64 bits:
//! ```text
//! head    magic "PWFOODS\n", version u32, count u32, length u64, checksum u64 of what follows
//! index   per food: number u32, offset of its labels u32, offset of its record u32
//! texts   v count, then texts: v length, UTF-8                  (groups, measures, makers...)
//! pairs   v count, then per pair of codes: 4 x v text + 1       (source, its meaning, derivation, its meaning)
//! labels  per food: name, common names as v length and text; v group; v maker; 1 byte survey
//! records per food: the rest, then 19 bytes of which nutrients are known,
//!         then per known nutrient v value, v pair * 2 + (1 when data points follow), v data points
//! ```
//! A value is `mantissa << 3 | decimals` of its shortest decimal; dividing the mantissa by the power
//! of ten gives back the very same `f64`.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use super::{Code, Content, Food, FoodId, Footnote, NoteSubject, Portion, Provenance};
use crate::nutrient::Nutrient;

const MAGIC: &[u8; 8] = b"PWFOODS\n";
const VERSION: u32 = 1;
const HEAD: usize = 32;
const MASK: usize = Nutrient::COUNT.div_ceil(8);

/// The citation of the bundled table.
pub const SR28: &str = "US Department of Agriculture, Agricultural Research Service, Nutrient Data Laboratory. \
    USDA National Nutrient Database for Standard Reference, Release 28. September 2015";

/// What is wrong with packed bytes or with a food to be packed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PackError {
    /// The bytes do not begin as a packed table does.
    #[error("this is not a packed food table")]
    NotPacked,
    /// A packed table of another version.
    #[error("the packed food table has version {0}, expected {VERSION}; pack it again")]
    Version(u32),
    /// The bytes end early or go on too long.
    #[error("the packed food table has {found} bytes, expected {expected}")]
    Length {
        /// Bytes there are.
        found: u64,
        /// Bytes its head promises.
        expected: u64,
    },
    /// The bytes are not those that were written.
    #[error("the packed food table is damaged: its checksum does not fit")]
    Checksum,
    /// The bytes contradict themselves.
    #[error("the packed food table is damaged: {0}")]
    Damaged(&'static str),
    /// A food that the form cannot hold.
    #[error("food {id} cannot be packed: {why}")]
    Unpackable {
        /// The food.
        id: FoodId,
        /// What it has that the form cannot hold.
        why: &'static str,
    },
}

/// A checksum of bytes: FNV-1a over little-endian words of 8 bytes, the last one filled with zeros.
///
/// Source: G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, "The FNV Non-Cryptographic Hash Algorithm",
/// IETF draft, offset basis and prime of 64 bits.
fn checksum(bytes: &[u8]) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for chunk in bytes.chunks(8) {
        let mut word = [0; 8];
        word[..chunk.len()].copy_from_slice(chunk);
        hash = (hash ^ u64::from_le_bytes(word)).wrapping_mul(0x0100_0000_01b3);
    }
    hash
}

/// The mantissa and decimals of the shortest decimal equal to `value`; `None` when it needs more than
/// seven decimals or is too large.
fn decimal(value: f64) -> Option<(u64, u8)> {
    (0..=7_u8).find_map(|decimals| {
        let scale = 10_f64.powi(i32::from(decimals));
        let mantissa = (value * scale).round();
        let fits = (0.0..=9e15).contains(&mantissa) && mantissa / scale == value;
        fits.then_some((mantissa as u64, decimals))
    })
}

#[derive(Default)]
struct Texts {
    all: Vec<String>,
    index: HashMap<String, u64>,
}

impl Texts {
    fn of(&mut self, text: &str) -> u64 {
        if let Some(&known) = self.index.get(text) {
            return known;
        }
        let next = self.all.len() as u64;
        self.all.push(text.to_owned());
        self.index.insert(text.to_owned(), next);
        next
    }
}

fn put(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push(value as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

fn put_text(out: &mut Vec<u8>, text: &str) {
    put(out, text.len() as u64);
    out.extend_from_slice(text.as_bytes());
}

/// The packed form of foods whose ids are `sr28:` and a number, in the order of their numbers.
///
/// The same foods always give the same bytes.
pub fn pack(foods: &[Food]) -> Result<Vec<u8>, PackError> {
    let mut sorted: Vec<(u32, &Food)> = Vec::with_capacity(foods.len());
    for food in foods {
        let number = food
            .id
            .as_str()
            .strip_prefix("sr28:")
            .and_then(|n| n.parse().ok());
        let why = "its id is not `sr28:` and a number";
        sorted.push((
            number.ok_or_else(|| PackError::Unpackable {
                id: food.id.clone(),
                why,
            })?,
            food,
        ));
    }
    sorted.sort_by_key(|(number, _)| *number);

    let mut texts = Texts::default();
    texts.of("");
    let mut pairs: Vec<[u64; 4]> = Vec::new();
    let (mut index, mut labels, mut records) = (Vec::new(), Vec::new(), Vec::new());
    for (number, food) in &sorted {
        let cannot = |why| PackError::Unpackable {
            id: food.id.clone(),
            why,
        };
        let offset = |length| u32::try_from(length).map_err(|_| cannot("the table is over 4 GB"));
        let number_of = |value: f64| {
            let (mantissa, decimals) =
                decimal(value).ok_or_else(|| cannot("a number with over seven decimals"))?;
            Ok(mantissa << 3 | u64::from(decimals))
        };
        for value in [*number, offset(labels.len())?, offset(records.len())?] {
            index.extend_from_slice(&u32::to_le_bytes(value));
        }
        put_text(&mut labels, &food.name);
        put_text(&mut labels, &food.common_names);
        put(&mut labels, texts.of(&food.group));
        put(&mut labels, texts.of(&food.manufacturer));
        labels.push(u8::from(food.in_survey));

        put_text(&mut records, &food.scientific_name);
        put(&mut records, texts.of(&food.refuse));
        let f = &food.factors;
        for optional in [food.refuse_percent, f.nitrogen, f.protein, f.fat, f.carbohydrate] {
            put(
                &mut records,
                optional.map(number_of).transpose()?.map_or(0, |n| n + 1),
            );
        }
        put(&mut records, food.portions.len() as u64);
        for portion in &food.portions {
            put(&mut records, number_of(portion.amount)?);
            put(&mut records, texts.of(&portion.measure));
            put(&mut records, number_of(portion.grams)?);
        }
        put(&mut records, food.footnotes.len() as u64);
        for note in &food.footnotes {
            put(
                &mut records,
                match note.subject {
                    NoteSubject::Description => 0,
                    NoteSubject::Measure => 1,
                    NoteSubject::Value(None) => 2,
                    NoteSubject::Value(Some(nutrient)) => 3 + nutrient.index() as u64,
                },
            );
            put(&mut records, texts.of(&note.text));
        }
        let mut mask = [0_u8; MASK];
        let mut values = Vec::new();
        for (nutrient, content) in food.known() {
            mask[nutrient.index() / 8] |= 1 << (nutrient.index() % 8);
            let Content::Known(value) = content else {
                return Err(cannot("a trace; Standard Reference has none"));
            };
            put(&mut values, number_of(value)?);
            let detail = food.value_detail(nutrient);
            let mut pair = [0; 4];
            if let Some(detail) = detail {
                let codes = [&detail.provenance.source, &detail.provenance.derivation];
                for (i, code) in codes.into_iter().enumerate() {
                    if let Some(code) = code {
                        pair[2 * i] = texts.of(&code.code) + 1;
                        pair[2 * i + 1] = texts.of(&code.meaning) + 1;
                    }
                }
            }
            let place = pairs.iter().position(|p| *p == pair).unwrap_or_else(|| {
                pairs.push(pair);
                pairs.len() - 1
            });
            let points = detail.map_or(0, |d| d.data_points);
            put(&mut values, (place as u64) << 1 | u64::from(points > 0));
            if points > 0 {
                put(&mut values, u64::from(points));
            }
        }
        records.extend_from_slice(&mask);
        records.extend_from_slice(&values);
    }

    let mut body = index;
    let mut section = Vec::new();
    put(&mut section, texts.all.len() as u64);
    texts.all.iter().for_each(|text| put_text(&mut section, text));
    put(&mut section, pairs.len() as u64);
    pairs.iter().flatten().for_each(|&text| put(&mut section, text));
    put(&mut section, labels.len() as u64);
    body.extend_from_slice(&section);
    body.extend_from_slice(&labels);
    body.extend_from_slice(&records);

    let mut out = Vec::with_capacity(HEAD + body.len());
    out.extend_from_slice(MAGIC);
    out.extend_from_slice(&VERSION.to_le_bytes());
    out.extend_from_slice(&(sorted.len() as u32).to_le_bytes());
    out.extend_from_slice(&((HEAD + body.len()) as u64).to_le_bytes());
    out.extend_from_slice(&checksum(&body).to_le_bytes());
    out.extend_from_slice(&body);
    Ok(out)
}

/// Reads forward through bytes; running past the end is an error, never a panic.
struct Cursor<'a> {
    rest: &'a [u8],
}

const CUT: PackError = PackError::Damaged("it ends within a food");

impl<'a> Cursor<'a> {
    fn bytes(&mut self, count: usize) -> Result<&'a [u8], PackError> {
        let (taken, rest) = self.rest.split_at_checked(count).ok_or(CUT)?;
        self.rest = rest;
        Ok(taken)
    }

    fn number(&mut self) -> Result<u64, PackError> {
        let mut value = 0;
        for shift in (0..64).step_by(7) {
            let (&byte, rest) = self.rest.split_first().ok_or(CUT)?;
            self.rest = rest;
            value |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return Ok(value);
            }
        }
        Err(PackError::Damaged("a number has over 64 bits"))
    }

    fn size(&mut self) -> Result<usize, PackError> {
        usize::try_from(self.number()?).map_err(|_| CUT)
    }

    fn text(&mut self) -> Result<&'a str, PackError> {
        let length = self.size()?;
        std::str::from_utf8(self.bytes(length)?).map_err(|_| PackError::Damaged("a text is not UTF-8"))
    }

    fn decimal(&mut self) -> Result<f64, PackError> {
        Ok(decimal_value(self.number()?))
    }

    fn optional_decimal(&mut self) -> Result<Option<f64>, PackError> {
        Ok(self.number()?.checked_sub(1).map(decimal_value))
    }
}

fn decimal_value(packed: u64) -> f64 {
    const POWERS: [f64; 8] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];
    (packed >> 3) as f64 / POWERS[(packed & 7) as usize]
}

/// What a list or a search needs to know of a food.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Label<'a> {
    /// Name in the source's words.
    pub name: &'a str,
    /// Other common names, may be empty.
    pub common_names: &'a str,
    /// Food group, may be empty.
    pub group: &'a str,
    /// Who makes it, empty when generic.
    pub manufacturer: &'a str,
    /// Whether national surveys report it often.
    pub in_survey: bool,
}

#[derive(Clone, Copy, Debug)]
struct Entry {
    number: u32,
    labels: usize,
    record: usize,
}

/// A packed table: checked as a whole when opened, decoded food by food when asked.
#[derive(Clone, Debug)]
pub struct Packed {
    bytes: Cow<'static, [u8]>,
    count: usize,
    texts: Vec<(usize, usize)>,
    provenances: Arc<Vec<Provenance>>,
    labels: usize,
    records: usize,
    /// Foods decoded so far, for [`Packed::kept`].
    kept: Vec<OnceLock<Option<Box<Food>>>>,
}

impl Packed {
    /// Opens packed bytes; refuses bytes that are cut, damaged or of another version.
    pub fn open(bytes: impl Into<Cow<'static, [u8]>>) -> Result<Packed, PackError> {
        let bytes = bytes.into();
        let head = bytes.get(..HEAD).ok_or(PackError::NotPacked)?;
        if &head[..8] != MAGIC {
            return Err(PackError::NotPacked);
        }
        let word = |at: usize| u32::from_le_bytes([head[at], head[at + 1], head[at + 2], head[at + 3]]);
        let long = |at: usize| u64::from(word(at)) | u64::from(word(at + 4)) << 32;
        if word(8) != VERSION {
            return Err(PackError::Version(word(8)));
        }
        let (found, expected) = (bytes.len() as u64, long(16));
        if found != expected {
            return Err(PackError::Length { found, expected });
        }
        if checksum(&bytes[HEAD..]) != long(24) {
            return Err(PackError::Checksum);
        }
        let count = word(12) as usize;
        let start = count
            .checked_mul(12)
            .and_then(|n| n.checked_add(HEAD))
            .ok_or(CUT)?;
        let mut cursor = Cursor {
            rest: bytes.get(start..).ok_or(CUT)?,
        };
        let place = |cursor: &Cursor<'_>| bytes.len() - cursor.rest.len();
        let mut texts = Vec::new();
        for _ in 0..cursor.size()? {
            let length = cursor.text()?.len();
            texts.push((place(&cursor) - length, length));
        }
        let mut provenances = Vec::new();
        for _ in 0..cursor.size()? {
            let mut code = || -> Result<Option<Code>, PackError> {
                let (code, meaning) = (cursor.size()?, cursor.size()?);
                let text = |at: usize| {
                    let &(start, length) = at.checked_sub(1).and_then(|at| texts.get(at))?;
                    std::str::from_utf8(bytes.get(start..start + length)?).ok()
                };
                Ok(text(code).map(|code| Code {
                    code: code.to_owned().into(),
                    meaning: text(meaning).unwrap_or("").to_owned().into(),
                }))
            };
            provenances.push(Provenance {
                source: code()?,
                derivation: code()?,
            });
        }
        let labels_length = cursor.size()?;
        let labels = place(&cursor);
        let records = labels
            .checked_add(labels_length)
            .filter(|&at| at <= bytes.len())
            .ok_or(CUT)?;
        Ok(Packed {
            count,
            texts,
            provenances: Arc::new(provenances),
            labels,
            records,
            bytes,
            kept: vec![OnceLock::new(); count],
        })
    }

    /// How many foods it holds.
    pub fn len(&self) -> usize {
        self.count
    }

    /// Whether it holds none.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    fn entry(&self, place: usize) -> Option<Entry> {
        let at = HEAD + 12 * place;
        let raw = self.bytes.get(at..at + 12).filter(|_| place < self.count)?;
        let word = |at: usize| u32::from_le_bytes([raw[at], raw[at + 1], raw[at + 2], raw[at + 3]]);
        Some(Entry {
            number: word(0),
            labels: self.labels.checked_add(word(4) as usize)?,
            record: self.records.checked_add(word(8) as usize)?,
        })
    }

    /// The number of the food at a place, in rising order.
    pub fn number(&self, place: usize) -> Option<u32> {
        self.entry(place).map(|e| e.number)
    }

    /// Where the food with this number stands; `None` if there is none.
    pub fn place(&self, number: u32) -> Option<usize> {
        let (mut low, mut high) = (0, self.count);
        while low < high {
            let middle = (low + high) / 2;
            match self.number(middle)?.cmp(&number) {
                std::cmp::Ordering::Less => low = middle + 1,
                std::cmp::Ordering::Greater => high = middle,
                std::cmp::Ordering::Equal => return Some(middle),
            }
        }
        None
    }

    fn text(&self, at: usize) -> Result<&str, PackError> {
        let wrong = PackError::Damaged("a text is not in its list");
        let &(start, length) = self.texts.get(at).ok_or(wrong.clone())?;
        let bytes = self.bytes.get(start..start + length).ok_or(wrong.clone())?;
        std::str::from_utf8(bytes).map_err(|_| wrong)
    }

    /// Name and group of the food at a place.
    pub fn label(&self, place: usize) -> Result<Label<'_>, PackError> {
        let entry = self.entry(place).ok_or(CUT)?;
        let mut cursor = Cursor {
            rest: self.bytes.get(entry.labels..).ok_or(CUT)?,
        };
        Ok(Label {
            name: cursor.text()?,
            common_names: cursor.text()?,
            group: self.text(cursor.size()?)?,
            manufacturer: self.text(cursor.size()?)?,
            in_survey: cursor.bytes(1)? == [1],
        })
    }

    /// The food at a place, decoded once; `None` when it cannot be.
    pub fn kept(&self, place: usize) -> Option<&Food> {
        let decode = || self.food(place).ok().map(Box::new);
        self.kept.get(place)?.get_or_init(decode).as_deref()
    }

    /// Everything about the food at a place.
    pub fn food(&self, place: usize) -> Result<Food, PackError> {
        let entry = self.entry(place).ok_or(CUT)?;
        let label = self.label(place)?;
        let mut food = Food::new(FoodId::sr28(entry.number), label.name, SR28);
        food.group = label.group.to_owned();
        food.common_names = label.common_names.to_owned();
        food.manufacturer = label.manufacturer.to_owned();
        food.in_survey = label.in_survey;
        food.provenances = Arc::clone(&self.provenances);

        let mut cursor = Cursor {
            rest: self.bytes.get(entry.record..).ok_or(CUT)?,
        };
        food.scientific_name = cursor.text()?.to_owned();
        food.refuse = self.text(cursor.size()?)?.to_owned();
        food.refuse_percent = cursor.optional_decimal()?;
        food.factors.nitrogen = cursor.optional_decimal()?;
        food.factors.protein = cursor.optional_decimal()?;
        food.factors.fat = cursor.optional_decimal()?;
        food.factors.carbohydrate = cursor.optional_decimal()?;
        for _ in 0..cursor.size()? {
            let amount = cursor.decimal()?;
            let measure = self.text(cursor.size()?)?.to_owned();
            food.portions.push(Portion {
                amount,
                measure,
                grams: cursor.decimal()?,
            });
        }
        for _ in 0..cursor.size()? {
            let subject = match cursor.size()? {
                0 => NoteSubject::Description,
                1 => NoteSubject::Measure,
                n => NoteSubject::Value(n.checked_sub(3).and_then(Nutrient::from_index)),
            };
            food.footnotes.push(Footnote {
                subject,
                text: self.text(cursor.size()?)?.to_owned(),
            });
        }
        let mask = cursor.bytes(MASK)?;
        for nutrient in Nutrient::all() {
            if mask[nutrient.index() / 8] >> (nutrient.index() % 8) & 1 == 0 {
                continue;
            }
            food.set(nutrient, Content::Known(cursor.decimal()?));
            let pair = cursor.number()?;
            let points = if pair & 1 == 1 { cursor.number()? } else { 0 };
            let wrong = |_| PackError::Damaged("a number of data points is out of range");
            let points = u32::try_from(points).map_err(wrong)?;
            food.detail(nutrient, points, u16::try_from(pair >> 1).map_err(wrong)?);
        }
        Ok(food)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two() -> Vec<Food> {
        let mut a = Food::new(FoodId::sr28(2), "Béchamel", "t");
        a.set(Nutrient::PROTEIN, Content::Known(38.76));
        a.set(Nutrient::FAT, Content::Known(0.0));
        a.portions.push(Portion {
            amount: 1.0,
            measure: "cup".into(),
            grams: 12.5,
        });
        let mut b = Food::new(FoodId::sr28(1), "Almond", "t");
        b.refuse_percent = Some(0.0);
        vec![a, b]
    }

    #[test]
    fn values_come_back_exactly() {
        let packed = Packed::open(pack(&two()).unwrap()).unwrap();
        assert_eq!(packed.number(0), Some(1));
        assert_eq!(packed.place(2), Some(1));
        assert_eq!(packed.place(3), None);
        let food = packed.food(1).unwrap();
        assert_eq!(food.name, "Béchamel");
        assert_eq!(food.content(Nutrient::PROTEIN), Content::Known(38.76));
        assert_eq!(food.content(Nutrient::FAT), Content::Known(0.0));
        assert_eq!(food.content(Nutrient::WATER), Content::Unknown);
        assert_eq!(food.refuse_percent, None);
        assert_eq!(packed.food(0).unwrap().refuse_percent, Some(0.0));
        assert_eq!(food.portions.len(), 1);
    }

    #[test]
    fn damaged_bytes_are_refused() {
        let good = pack(&two()).unwrap();
        for at in 0..good.len() {
            let mut bad = good.clone();
            bad[at] ^= 0x10;
            assert!(
                Packed::open(bad.clone()).is_err() || (12..16).contains(&at),
                "byte {at}"
            );
            // Even past the checksum nothing panics.
            let sum = checksum(&bad[HEAD..]).to_le_bytes();
            bad[24..32].copy_from_slice(&sum);
            if let Ok(packed) = Packed::open(bad) {
                for place in 0..3 {
                    let _ = (packed.label(place), packed.food(place));
                }
            }
        }
        for length in 0..good.len() {
            assert!(Packed::open(good[..length].to_vec()).is_err());
        }
    }

    #[test]
    fn decimals_are_the_shortest() {
        assert_eq!(decimal(38.76), Some((3876, 2)));
        assert_eq!(decimal(0.0), Some((0, 0)));
        assert_eq!(decimal(f64::NAN), None);
        assert_eq!(decimal(-1.0), None);
    }
}
