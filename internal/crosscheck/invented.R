# Invented data of the sizes that matter here: a pool of 35 studies and a trial of 48 unit-seasons. bench.R times the same.
dir <- commandArgs(TRUE)[1]
set.seed(20140315)

# 35 studies on 14 sites, some of three or four arms: contrasts of log yield with the unsanitized arm, whose variance
# those of a study share. Some contrasts of four studies are between two sanitized arms, where the site cancels.
# With a site effect, and without one, which puts its variance at 0.
pool <- function(name, site_sd, chained) {
  studies <- 35
  arms <- ifelse(seq_len(studies) %% 14 == 0, 3, ifelse(seq_len(studies) %% 6 == 0, 2, 1))
  study <- rep(seq_len(studies), arms)
  site <- sample(14, studies, TRUE)[study]
  practices <- c("new-spout", "check-valve", "new-drop", "silver-spout", "alcohol-flush")
  truth <- c(0.27, 0.45, 0.53, 0.33, 0.35)
  practice <- unlist(lapply(arms, function(a) sample(5, a)))
  rows <- length(study)
  shared <- runif(studies, 0.001, 0.01)[study]
  own <- runif(rows, 0.001, 0.01)
  V <- outer(study, study, "==") * shared
  diag(V) <- shared + own
  X <- sapply(seq_along(practices), function(p) (practice == p) * 1)
  colnames(X) <- practices
  Z <- cbind(diag(rows), outer(study, unique(study), "==")) * sqrt(1/2)
  U <- outer(site, unique(site), "==") * 1
  y <- as.numeric(X %*% truth + U %*% rnorm(ncol(U), 0, site_sd) + Z %*% rnorm(ncol(Z), 0, 0.12) + t(chol(V)) %*% rnorm(rows))
  z <- rep(1, rows) # the site's part in a contrast
  if (chained) { # the second contrast of some studies against the first arm instead
    C <- diag(rows)
    for (s in c(6, 12, 18, 24)) { at <- which(study == s); C[at[2], at[1]] <- -1 }
    y <- as.numeric(C %*% y); X <- C %*% X; Z <- C %*% Z; V <- C %*% V %*% t(C); z <- as.numeric(C %*% z)
    colnames(X) <- practices
  }
  d <- data.frame(y, study, site, practice, z)
  arm <- Z %*% t(Z)
  site_part <- outer(site, site, "==") * outer(z, z)
  if (chained) {
    # metafor has no such design: its marginal covariance is made from the unchained contrasts, which gives the same fit.
    back <- solve(C)
    fit <- rma.mv(as.numeric(back %*% y), back %*% V %*% t(back), mods = back %*% X, intercept = FALSE, random = list(~ practice | study, ~ 1 | site), rho = 1/2, data = d, control = list(rel.tol = 1e-10))
  } else {
    fit <- rma.mv(y, V, mods = X, intercept = FALSE, random = list(~ practice | study, ~ 1 | site), rho = 1/2, data = d, control = list(rel.tol = 1e-10))
  }
  ci <- list(confint(fit, tau2 = 1, control = list(tol = 1e-12)), confint(fit, sigma2 = 1, control = list(tol = 1e-12)))
  expect <- from_metafor(fit, c(fit$tau2, fit$sigma2), fit$V, lapply(list(arm, site_part), function(k) if (chained) back %*% k %*% t(back) else k), intervals(ci[[1]], ci[[2]]))
  if (chained) { # what is not the same for other contrasts of the same arms
    expect$loglik <- unbox(as.numeric(logLik(fit)) + as.numeric(determinant(crossprod(X))$modulus - determinant(crossprod(fit$X))$modulus) / 2)
    W <- solve(V)
    expect$trace_p <- unbox(sum(diag(W - W %*% X %*% solve(t(X) %*% W %*% X) %*% t(X) %*% W)))
  }
  write_case(dir, name, "invented: 35 studies on 14 sites, five practices", y, X, list(columns("study", Z), columns("site", U * z)), expect, study_blocks(V, study), c("metafor"))
}
pool("invented-pool", 0.12, FALSE)
pool("invented-pool-chained", 0.12, TRUE)
pool("invented-pool-boundary", 0, FALSE)

# A trial: 24 units in 6 blocks, four practices, two seasons; ln(yield per tap). Whole, with readings lost, and with blocks
# that do not differ, whose variance stands at 0 and stays in the information.
names <- c("unsanitized", "new-spout", "check-valve", "new-drop")
trial <- function(name, block_sd, lost = NULL) {
  unit <- rep(1:24, 2)
  block <- (unit - 1) %/% 4 + 1
  season <- factor(rep(c(2024, 2025), each = 24))
  practice <- factor(names[unlist(lapply(1:6, function(b) sample(4)))][unit], levels = names)
  effect <- function(g, sd) rnorm(max(g), 0, sd)[g]
  yield <- 3 + c(0, 0.27, 0.45, 0.53)[practice] + 0.2 * (season == 2025) + effect(block, block_sd) + effect(unit, 0.12) + rnorm(48, 0, 0.1)
  d <- data.frame(yield, unit, block, season, practice)
  if (!is.null(lost)) d <- d[-lost, ]
  fit <- suppressMessages(lmer(yield ~ practice + season + (1 | block) + (1 | unit), d, control = tight()))
  write_case(dir, name, paste("invented: a trial of", nrow(d), "unit-seasons"), d$yield, model.matrix(fit),
    list(grouping("block", d$block), grouping("unit", d$unit), identity_of("residual")), from_lmer(fit, variance(fit, c("block", "unit", "Residual"))), packages = c("lme4", "lmerTest", "pbkrtest"))
}
trial("invented-trial", 0.1)
trial("invented-trial-unbalanced", 0.1, lost = c(7, 31, 45))
trial("invented-trial-boundary", 0)
trial("invented-trial-boundary-unbalanced", 0, lost = c(5, 16, 40, 41))
