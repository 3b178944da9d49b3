# Reference values for tests/stats/test_mixed_aft.py, from roads that share no code with trialkit.
# Run: Rscript tests/reference/pooling_mixed.R
# 1. Dyestuff (Davies & Goldsmith 1972): lme4, restricted and plain likelihood.
# 2. Exact log times, groups crossed with clusters: lme4, restricted likelihood.
# 3. Censored times with one random shift a cluster: the integral by R's integrate() (adaptive
#    Gauss-Kronrod), maximised by nlminb; likewise at fixed parameters with two nested integrals.
# 4. Without any shift: survival::survreg, interval-censored log-normal.
library(lme4); library(survival)
cat("R", as.character(getRversion()), "lme4", as.character(packageVersion("lme4")),
    "survival", as.character(packageVersion("survival")), "\n")
report <- function(fit) {
  v <- as.data.frame(VarCorr(fit)); cat(" variances", format(v$vcov, digits = 8), "\n")
  cat(" fixed", format(fixef(fit), digits = 8), "se", format(sqrt(diag(as.matrix(vcov(fit)))), digits = 8), "\n")
}
cat("1 dyestuff REML\n"); report(lmer(Yield ~ 1 + (1 | Batch), Dyestuff))
cat("1 dyestuff ML\n"); report(lmer(Yield ~ 1 + (1 | Batch), Dyestuff, REML = FALSE))

d <- read.csv("tests/reference/pooling_mixed.csv")
d$group <- factor(d$group); d$trial <- factor(d$trial); d$cell <- interaction(d$group, d$trial)
cat("2 exact log times REML\n")
report(lmer(y ~ 0 + group + (1 | trial) + (1 | cell), d,
            control = lmerControl(optCtrl = list(maxfun = 1e5), optimizer = "bobyqa",
                                  calc.derivs = FALSE)))

logp <- function(l, r, m, s) log(pnorm((log(r) - m) / s) - pnorm((log(l) - m) / s))
one <- function(part, mu, sigma, tau) {
  f <- function(u) sapply(u, function(x)
    exp(sum(logp(part$left, part$right, mu[part$group] + tau * x, sigma))) * dnorm(x))
  log(integrate(f, -8, 8, rel.tol = 1e-10, subdivisions = 500)$value)
}
parts <- split(d, d$trial)
minus <- function(p) -sum(sapply(parts, one, mu = p[1:3], sigma = exp(p[4]), tau = exp(p[5])))
best <- nlminb(c(0, .7, 1.2, log(.3), log(.3)), minus, control = list(rel.tol = 1e-12))
cat("3 one shift a trial, ML: loglik", format(-best$objective, digits = 9), "location",
    format(best$par[1:3], digits = 6), "sigma tau", format(exp(best$par[4:5]), digits = 6), "\n")

two <- function(part, mu, sigma, omega, tau) {
  cells <- split(part, part$group, drop = TRUE)
  inner <- function(u, cell) {
    f <- function(z) sapply(z, function(x) exp(sum(logp(cell$left, cell$right,
      mu[cell$group[1]] + tau * u + omega * x, sigma))) * dnorm(x))
    integrate(f, -8, 8, rel.tol = 1e-10, subdivisions = 500)$value
  }
  f <- function(u) sapply(u, function(x) prod(sapply(cells, inner, u = x)) * dnorm(x))
  log(integrate(f, -8, 8, rel.tol = 1e-9, subdivisions = 500)$value)
}
value <- sum(sapply(parts, two, mu = c(.1, .6, 1.2), sigma = .28, omega = .22, tau = .33))
cat("3 two shifts at location .1 .6 1.2, sigma .28, omega .22, tau .33: loglik",
    format(value, digits = 10), "\n")

s <- survreg(Surv(ifelse(left == 0, NA, left), ifelse(is.finite(right), right, NA),
                  type = "interval2") ~ 0 + group, d, dist = "lognormal")
cat("4 survreg location", format(coef(s), digits = 8), "scale", format(s$scale, digits = 8), "\n")
