//! Rebuilds `foods/sr28/sr28.bin` from the original files beside it:
//! `cargo run --release --example pack-foods`.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use platewright::foods::{ascii, packed};

type Failure = Box<dyn std::error::Error>;

/// The packed bytes made from the original files in a folder.
pub fn packed_from(folder: &Path) -> Result<Vec<u8>, Failure> {
    let open = |name: &str| -> Result<Box<dyn Read>, Failure> {
        let path = folder.join(format!("{name}.txt"));
        Ok(Box::new(
            File::open(&path).map_err(|e| format!("{}: {e}", path.display()))?,
        ))
    };
    let archive = File::open(folder.join("NUT_DATA.7z"))?;
    let mut archive = sevenz_rust2::ArchiveReader::new(archive, sevenz_rust2::Password::empty())?;
    let release = ascii::Release {
        food_des: open("FOOD_DES")?,
        nutr_def: open("NUTR_DEF")?,
        nut_data: Box::new(Cursor::new(archive.read_file("NUT_DATA.txt")?)),
        fd_group: Some(open("FD_GROUP")?),
        weight: Some(open("WEIGHT")?),
        footnote: Some(open("FOOTNOTE")?),
        deriv_cd: Some(open("DERIV_CD")?),
        src_cd: Some(open("SRC_CD")?),
    };
    let reading = ascii::read(release, "sr28", packed::SR28);
    if let Some(problem) = reading.problems.first() {
        return Err(format!("{} problems, first: {}", reading.problems.len(), problem.message).into());
    }
    Ok(packed::pack(&reading.foods)?)
}

#[allow(dead_code, reason = "the truth test includes this file for `packed_from`")]
fn main() -> Result<(), Failure> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("foods/sr28");
    let bytes = packed_from(&folder)?;
    std::fs::write(folder.join("sr28.bin"), &bytes)?;
    println!("foods/sr28/sr28.bin: {} bytes", bytes.len());
    Ok(())
}
