#include "gas/gas.h"

#include <math.h>

#define PI 3.14159265358979323846

/* Sutherland 1893 (Phil. Mag. 36:507): mu = mu300 (T/300)^1.5 (300 + S)/(T + S). S is fitted to
 * handbook values at 200 and 400 K (water 300 and 500 K), so 1 to 2 % there and worse far outside.
 */
double rfy_viscosity(const rfy_species *gas, double temperature) {
    double ratio = temperature / 300.0;
    return gas->viscosity_300 * ratio * sqrt(ratio) * (300.0 + gas->sutherland) /
           (temperature + gas->sutherland);
}

double rfy_mean_speed(double molar_mass, double temperature) {
    return sqrt(8.0 * RFY_R * temperature / (PI * molar_mass));
}

double rfy_probable_speed(double molar_mass, double temperature) {
    return sqrt(2.0 * RFY_R * temperature / molar_mass);
}

/* The path that the viscosity implies for hard spheres, mu = rho vbar lambda / 2 (Chapman and
 * Cowling's 0.499 rounded up, as usual): lambda p = mu sqrt(pi R T / (2 M)). Other definitions
 * differ by up to 10 %. */
double rfy_mean_free_path(double viscosity, double molar_mass, double temperature,
                          double pressure) {
    return viscosity * sqrt(PI * RFY_R * temperature / (2.0 * molar_mass)) / pressure;
}

/* Fuller, Schettler and Giddings 1966 (Ind. Eng. Chem. 58(5):18) with the volumes redetermined by
 * Fuller, Ensley and Giddings 1969 (J. Phys. Chem. 73:3679): D in cm2/s, p in atm, M in g/mol, D p
 * = 1.00e-3 T^1.75 sqrt(1/Ma + 1/Mb) / (Va^(1/3) + Vb^(1/3))^2. The newer handbook form, 0.00143
 * T^1.75/(p sqrt(M_ab) ...) with p in bar and M_ab = 2/(1/Ma + 1/Mb), is the same within 0.2 %.
 * Typical error 5 %; He-H2 is the known bad pair (16 % high). */
double rfy_diffusivity_p(const rfy_species *a, const rfy_species *b, double temperature) {
    double width = cbrt(a->diffusion_volume) + cbrt(b->diffusion_volume);
    double per_gram = 1e-3 / a->molar_mass + 1e-3 / b->molar_mass;
    double cm2_atm = 1.00e-3 * pow(temperature, 1.75) * sqrt(per_gram) / (width * width);
    return cm2_atm * 1e-4 * RFY_ATM;
}

/* Wilke 1950 (J. Chem. Phys. 18:517), equation 14. Exactly 1 for twins: every factor is then a
 * power of two or one. */
double rfy_wilke_weight(double mu_i, double mu_j, double mass_i, double mass_j) {
    double root = 1.0 + sqrt(mu_i / mu_j) * sqrt(sqrt(mass_j / mass_i));
    return root * root / sqrt(8.0 * (1.0 + mass_i / mass_j));
}

/* Magnus form with the coefficients of WMO No. 8 (Guide to Instruments, 2008 edition, annex 4.B),
 * for pure water vapour: good to 0.3 % from -45 to 60 degC over water, -65 to 0 degC over ice.
 * Towards absolute zero the ice form has a pole below which the pressure is zero for every purpose.
 */
double rfy_water_saturation(double temperature) {
    double celsius = temperature - 273.15;
    if (celsius >= 0.0)
        return 611.2 * exp(17.62 * celsius / (243.12 + celsius));
    if (celsius < -270.0)
        return 0.0;
    return 611.2 * exp(22.46 * celsius / (272.62 + celsius));
}
