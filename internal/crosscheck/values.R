# Single numbers that tests elsewhere are held to, worked out from definitions alone and by another way than Go's.

write_values <- function(dir) {
  dir <- file.path(dir, "value")
  dir.create(dir, showWarnings = FALSE, recursive = TRUE)

  # P(max |T_j| <= t) of p contrasts with one reference, equally correlated at rho, by nested quadrature (Dunnett 1955,
  # JASA 50:1096): the inner integral over the reference, the outer over the scale s, df s^2 ~ chi-squared.
  within <- function(t, p, df, rho = 0.5) {
    given <- function(u) integrate(function(z) dnorm(z) *
      (pnorm((u + sqrt(rho) * z) / sqrt(1 - rho)) - pnorm((-u + sqrt(rho) * z) / sqrt(1 - rho)))^p,
      -10, 10, rel.tol = 1e-11, subdivisions = 500)$value
    scale <- function(s) 2 * df * s * dchisq(df * s^2, df)
    integrate(function(s) scale(s) * sapply(t * s, given), 0, 6, rel.tol = 1e-10, subdivisions = 500)$value
  }
  critical <- function(p, df) uniroot(function(t) within(t, p, df) - 0.95, c(2, 3.5), tol = 1e-9)$root

  # The present value of 1 at the end of each of n years, added up, and what a year then must bring.
  present <- function(r, n) sum((1 + r)^-seq_len(n))

  # The standard atmosphere of 1976 below 11 km: d ln P = -g M / (R T(h)) dh with T = 288.15 - 0.0065 h, by quadrature;
  # an inch of mercury is 3386.389 Pa (NIST Special Publication 811, Appendix B.8).
  inches <- function(feet) {
    fall <- if (feet == 0) 0 else
      integrate(function(h) 9.80665 * 0.0289644 / (8.31432 * (288.15 - 0.0065 * h)), 0, 0.3048 * feet, rel.tol = 1e-12)$value
    101325 * exp(-fall) / 3386.389
  }

  # Contrast of a grey on white: Web Content Accessibility Guidelines 2.1, relative luminance.
  contrast <- function(grey) 1.05 / (((grey / 255 + 0.055) / 1.055)^2.4 + 0.05)

  machine <- 10000 + 1000 * present(0.08, 5) - 2000 * 1.08^-5
  values <- list(
    "within 3 2.5 12" = within(2.5, 3, 12), "within 3 2.5 12.4" = within(2.5, 3, 12.4),
    "within 2 2.5 12" = within(2.5, 2, 12), "within 3 2.54 20" = within(2.54, 3, 20),
    "critical 2 12" = critical(2, 12), "critical 3 20" = critical(3, 20),
    "recovery 0.10 3" = 1 / present(0.10, 3), "recovery 0.08 5" = 1 / present(0.08, 5),
    "recovery 0.12 10" = 1 / present(0.12, 10), "recovery 0.05 20" = 1 / present(0.05, 20),
    "machine a year" = machine / present(0.08, 5),
    "machine A now" = 15 + 5 * present(0.06, 3), "machine A a year" = 15 / present(0.06, 3) + 5,
    "machine B now" = 10 + 6 * present(0.06, 2), "machine B a year" = 10 / present(0.06, 2) + 6,
    "new machine now" = 8 * present(0.06, 3) - 15, "new machine a year" = 8 - 15 / present(0.06, 3),
    "inches 0" = inches(0), "inches 1000" = inches(1000), "inches 2000" = inches(2000), "inches 5000" = inches(5000),
    "inches 10000" = inches(10000), "contrast of 767676" = contrast(0x76))
  writeLines(toJSON(lapply(values, unbox), digits = 12, pretty = TRUE), file.path(dir, "values.json"))
}

write_values(commandArgs(TRUE)[1])
