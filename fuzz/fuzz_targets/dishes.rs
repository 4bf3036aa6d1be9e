#![no_main]
libfuzzer_sys::fuzz_target!(
    init: platewright_fuzz::load(),
    |data: &[u8]| platewright_fuzz::dishes(data)
);
