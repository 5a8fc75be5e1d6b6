# Shared by the scripts: writes one case as JSON, data and results with the versions of R and the packages used.
# A case is a model y = X beta + e, var e = V0 + sum theta_k Z_k Z_k', as Go reads it, and what R makes of it.

suppressMessages({library(jsonlite); library(metafor); library(lme4); library(lmerTest); library(pbkrtest); library(nlme)})

write_case <- function(dir, name, source, y, X, components, expect, blocks = NULL, packages, reml = TRUE) {
  versions <- c(list(R = as.character(getRversion())), lapply(setNames(packages, packages), function(p) as.character(packageVersion(p))))
  x <- unname(as.matrix(X))
  case <- list(name = unbox(name), source = unbox(source), versions = lapply(versions, unbox), reml = unbox(reml),
    effects = as.character(colnames(X)), y = as.numeric(y), x = x, blocks = blocks, components = components, expect = expect)
  writeLines(toJSON(case, digits = NA, null = "null", na = "null"), file.path(dir, paste0(name, ".json")))
}

# Components. Rows are numbered from 0.
identity_of <- function(name) list(name = unbox(name), kind = unbox("identity"))
grouping <- function(name, g) list(name = unbox(name), kind = unbox("group"), group = as.integer(factor(g, levels = unique(g))) - 1L)
columns <- function(name, Z) list(name = unbox(name), kind = unbox("columns"), columns = lapply(seq_len(ncol(Z)), function(j) {
  at <- which(Z[, j] != 0)
  list(rows = as.integer(at) - 1L, values = as.numeric(Z[at, j]))
}))

# Blocks of a known covariance.
diagonal_blocks <- function(v) lapply(seq_along(v), function(i) list(rows = i - 1L, v = matrix(v[i], 1, 1)))
study_blocks <- function(V, study) lapply(unname(split(seq_along(study), factor(study, levels = unique(study)))), function(at)
  list(rows = as.integer(at) - 1L, v = unname(as.matrix(V[at, at, drop = FALSE]))))

# Kenward & Roger (1997, Biometrics 53:983) written out with whole matrices, for models whose package has none.
# A pool drops components at 0 and holds the degrees of freedom between 1 and rows less effects.
kenward_roger <- function(X, V0, K, theta, pool) {
  keep <- if (pool) theta > 0 else theta >= 0
  V <- V0
  for (k in seq_along(K)) V <- V + theta[k] * K[[k]]
  Vi <- solve(V)
  Phi <- solve(t(X) %*% Vi %*% X)
  P <- Vi - Vi %*% X %*% Phi %*% t(X) %*% Vi
  K <- K[keep]
  n <- length(K)
  Pk <- lapply(K, function(k) -t(X) %*% Vi %*% k %*% Vi %*% X)
  info <- matrix(0, n, n)
  for (k in seq_len(n)) for (l in seq_len(n)) info[k, l] <- sum(diag(P %*% K[[k]] %*% P %*% K[[l]])) / 2
  W <- solve(info)
  L <- matrix(0, ncol(X), ncol(X))
  for (k in seq_len(n)) for (l in seq_len(n))
    L <- L + W[k, l] * (t(X) %*% Vi %*% K[[k]] %*% Vi %*% K[[l]] %*% Vi %*% X - Pk[[k]] %*% Phi %*% Pk[[l]])
  PhiA <- Phi + 2 * Phi %*% L %*% Phi
  df <- function(c) {
    g <- sapply(Pk, function(p) -sum(c * (Phi %*% p %*% Phi %*% c)))
    d <- 2 * sum(c * (Phi %*% c))^2 / sum(g * (W %*% g))
    if (pool) min(max(d, 1), nrow(X) - ncol(X)) else d
  }
  list(Phi = Phi, PhiA = PhiA, df = df)
}

# One contrast a coefficient, with Kenward-Roger standard errors and degrees of freedom.
kr_contrasts <- function(kr, beta) {
  p <- length(beta)
  lapply(seq_len(p), function(j) {
    c <- replace(numeric(p), j, 1)
    list(c = c, value = unbox(beta[j]), se = unbox(sqrt(kr$PhiA[j, j])), df = unbox(kr$df(c)))
  })
}

# What a fit by metafor says, with Kenward-Roger by the above.
from_metafor <- function(fit, theta, V0, K, interval = NULL) {
  theta[theta < 1e-6 * max(theta)] <- 0 # its search ends just above 0
  X <- unname(fit$X)
  W <- solve(V0)
  P <- W - W %*% X %*% solve(t(X) %*% W %*% X) %*% t(X) %*% W
  kr <- kenward_roger(X, V0, K, theta, pool = TRUE)
  list(theta = theta, beta = as.numeric(fit$beta), se = as.numeric(fit$se), loglik = unbox(as.numeric(logLik(fit))),
    q = unbox(as.numeric(fit$QE)), trace_p = unbox(sum(diag(P))), profile = interval, contrasts = kr_contrasts(kr, as.numeric(fit$beta)))
}

# Profile-likelihood intervals, tighter than confint's default; null where an end is not reached.
intervals <- function(...) lapply(list(...), function(ci) {
  r <- ci$random[1, ]
  c(r[["ci.lb"]], r[["ci.ub"]])
})

# What lmerTest and pbkrtest say of a mixed model. theta in the order of the components given to Go.
from_lmer <- function(fit, theta) {
  beta <- unname(fixef(fit))
  p <- length(beta)
  contrasts <- lapply(seq_len(p), function(j) {
    c <- replace(numeric(p), j, 1)
    t <- contest1D(fit, c, ddf = "Kenward-Roger")
    list(c = c, value = unbox(t[["Estimate"]]), se = unbox(t[["Std. Error"]]), df = unbox(t[["df"]]))
  })
  xx <- as.numeric(determinant(crossprod(getME(fit, "X")))$modulus)
  list(theta = theta, beta = beta, se = unname(sqrt(diag(as.matrix(vcov(fit))))), loglik = unbox(as.numeric(logLik(fit)) + xx / 2), contrasts = contrasts)
}

tight <- function() lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14, ftol_rel = 1e-14, maxeval = 100000))
variance <- function(fit, group) {
  v <- as.data.frame(VarCorr(fit))
  sapply(group, function(g) v$vcov[v$grp == g & is.na(v$var2)][1])
}

# The rows of a table that pool.R wrote: y, V, study, site, and the columns of X by practice.
rows_of <- function(case) {
  treatments <- sapply(case$expect$gains, function(g) g$practice)
  rows <- NULL; blocks <- list()
  for (s in case$studies) {
    arms <- unlist(s$arms)
    if (!is.null(s$mean)) {
      m <- unlist(s$mean); sd <- unlist(s$sd); n <- unlist(s$n)
      y <- log(m[-1] / m[1]); v <- sd^2 / (n * m^2)
      V <- matrix(v[1], length(y), length(y)); diag(V) <- v[-1] + v[1]
    } else { y <- unlist(s$y); V <- matrix(unlist(s$v), length(y)) }
    site <- if (is.null(s$site)) s$study else s$site
    rows <- rbind(rows, data.frame(study = s$study, site = site, season = if (is.null(s$season)) NA else s$season, ref = s$reference, arm = arms, yi = y))
    blocks <- c(blocks, list(V))
  }
  X <- sapply(treatments, function(t) (rows$arm == t) - (rows$ref == t))
  list(rows = rows, V = as.matrix(Matrix::bdiag(blocks)), X = matrix(X, ncol = length(treatments), dimnames = list(NULL, treatments)))
}
