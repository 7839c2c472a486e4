package terrain

// GravityMPS2 is standard gravity (3rd General Conference on Weights and Measures, 1901).
const GravityMPS2 = 9.80665
