//! The kitchen: items people put on plates, what they are made of and bought as, and the meal
//! patterns of a region. Data in `foods/`, read here. Knows no price and no solver.
