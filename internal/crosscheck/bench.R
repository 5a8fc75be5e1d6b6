# Rscript crosscheck/bench.R: seconds that R takes for the fits of the Go benchmarks BenchmarkPool and BenchmarkTrial in
# package reml, on the same data. Prints 'name seconds' rows: the median of eleven runs each.
suppressMessages({library(jsonlite); library(metafor); library(lme4); library(lmerTest)})
args <- commandArgs(FALSE)
data <- file.path(dirname(sub("^--file=", "", grep("^--file=", args, value = TRUE))), "testdata")
read <- function(name) fromJSON(file.path(data, paste0(name, ".json")), simplifyVector = FALSE)
numbers <- function(l) vapply(l, as.numeric, 0)
median_time <- function(f) median(replicate(11, system.time(f())[["elapsed"]]))
row <- function(name, seconds) cat(sprintf("%-28s %.6f\n", name, seconds))

case <- read("invented-pool")
y <- numbers(case$y)
X <- t(vapply(case$x, numbers, numeric(length(case$effects))))
V <- matrix(0, length(y), length(y))
study <- integer(length(y))
for (b in seq_along(case$blocks)) {
  at <- numbers(case$blocks[[b]]$rows) + 1
  V[at, at] <- matrix(unlist(case$blocks[[b]]$v), length(at))
  study[at] <- b
}
site <- integer(length(y))
for (s in seq_along(case$components[[2]]$columns)) site[numbers(case$components[[2]]$columns[[s]]$rows) + 1] <- s
practice <- max.col(X)
row("pool rma.mv", median_time(function() rma.mv(y, V, mods = X, intercept = FALSE, random = list(~ practice | study, ~ 1 | site), rho = 1/2)))

case <- read("invented-trial")
X <- t(vapply(case$x, numbers, numeric(length(case$effects))))
d <- data.frame(yield = numbers(case$y), block = numbers(case$components[[1]]$group), unit = numbers(case$components[[2]]$group),
  practice = factor(1 + X[, 2:4] %*% 1:3), season = factor(X[, 5]))
fit <- function() lmer(yield ~ practice + season + (1 | block) + (1 | unit), d)
row("trial lmer", median_time(fit))
row("trial lmer + summary", median_time(function() summary(fit(), ddf = "Kenward-Roger")))
